"""What protects the part, relief devices and limits: it must come before the part yields, and is told to people."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.commands.plan_text import text_of
from rigproof.errors import DocumentError
from rigproof.plugins import Registry
from rigproof.run.plan import Plan, make_plan
from rigproof.run.planned import planned as planned_record
from rigproof.run.protecting import refuse_unprotected, relief_cautions
from rigproof.verdict.identified import of_verdict
from rigproof.verdict.record import Verdict

Planned = Callable[..., Plan]
PROOF = "  - proof: {source: pump, to: 35.75 bar}\n"  # aims 1 % higher: at 36.11 bar
SAFE = "    safe below: 0.5 bar\n"


def relieved(pressure: str, more: str = "") -> tuple[str, str]:
    """The change of the spool's rig.yaml that writes a relief device."""
    return SAFE, f"{SAFE}    relief device: {{set pressure: {pressure}{more}}}\n"


@pytest.mark.parametrize("pressure", ["36.2 bar", "39 bar ± 3 %", "{value: 100 bar, U: 5 bar, k: 2}"])
def test_one_between_the_proof_load_and_first_yield(planned: Planned, pressure: str) -> None:
    plan = planned(PROOF, relieved(pressure))
    refuse_unprotected(plan.rig, plan.procedure)


@pytest.mark.parametrize(
    ("pressure", "said"),
    [
        ("36 bar", "'36 bar' is reached from 36 bar on, and step 1 proof goes to 36.11 bar: it would open on the way"),
        ("37 bar ± 3 %", "'37 bar ± 3 %' is reached from 35.89 bar on, and step 1 proof goes to 36.11 bar"),
        # first yield at 109.7 bar (tests/reference/test_cylinders.py)
        ("107 bar ± 3 %", "'107 bar ± 3 %' may be 110.2 bar, and the load at first yield is 109.7 bar: it would not"),
        ("{value: 108 bar, U: 2 bar, k: 2}", "may be 110 bar, and the load at first yield is 109.7 bar"),
    ],
)
def test_one_that_opens_too_early_or_too_late(planned: Planned, pressure: str, said: str) -> None:
    plan = planned(PROOF, relieved(pressure))
    with pytest.raises(DocumentError) as refused:
        refuse_unprotected(plan.rig, plan.procedure)
    (fault,) = refused.value.faults
    assert fault.where == "sources.pump.relief device.set pressure"
    assert said in fault.message


def test_it_is_held_against_the_loads_of_its_own_source(planned: Planned) -> None:
    """Which goes nowhere where no step loads by it."""
    plan = planned("  - balance: {}\n", relieved("2 bar", ", certificate: 2026-0330"))
    refuse_unprotected(plan.rig, plan.procedure)
    (said,) = relief_cautions(plan.rig, plan.procedure)
    assert said == (
        "The relief device of pump opens at 2 bar (certificate 2026-0330): see that it is fitted, free and proved "
        "before any load."
    )


def test_where_none_is_written_people_are_told_between_what_it_must_open(planned: Planned) -> None:
    plan = planned(PROOF)
    (said,) = relief_cautions(plan.rig, plan.procedure)
    assert said.startswith("No relief device is written for pump: fit one that opens above 36.11 bar and below 109.7")
    assert said in plan.cautions
    assert said not in plan.of_rig()  # which `check` prints: it stands in the way of no document


def test_a_source_of_force_has_none(registry: Registry) -> None:
    folder = Path(__file__).parents[3] / "rigs" / "forcecell"
    plan = make_plan(folder, registry)
    assert relief_cautions(plan.rig, plan.procedure) == []
    assert planned_record(plan).relief_devices == ()


def test_check_refuses_it_at_its_place(spool_folder: Path, tmp_path: Path, registry: Registry) -> None:
    for name in ("rig.yaml", "acceptance.yaml"):
        text = (spool_folder / name).read_text("utf-8")
        (tmp_path / name).write_text(text.replace(*relieved("30 bar")), "utf-8")
    with pytest.raises(DocumentError) as refused:
        make_plan(tmp_path, registry)
    (fault,) = refused.value.faults
    assert "relief device: {set pressure: 30 bar}" in fault.text
    assert fault.text[fault.column - 1 :].startswith("30 bar")


def test_plan_verdict_and_caution_say_it(planned: Planned, accept: Callable[..., Verdict], tmp_path: Path) -> None:
    steps = "  - arming: {source: pump}\n  - cycles: {source: pump, to: 5 bar, times: 2, levels: 2}\n"
    stated = relieved("39 bar ± 3 %", ", serial number: RV-0031, certificate: 2026-0330")
    part = ("part:\n", "site: Hall 2\npart:\n  serial number: S-0147\n  drawing: 200-031 issue b\n")
    plan = planned(steps, stated, part)
    record = planned_record(plan)
    (relief,) = record.relief_devices
    assert (relief.set_pressure.value, relief.lowest.value, relief.highest.value) == (39e5, 37.83e5, 40.17e5)
    assert relief.left.value == pytest.approx(32.83e5)
    text = " ".join(text_of(record).split())
    assert "Part: serial number S-0147, drawing 200-031 issue b Site: Hall 2 U holds at" in text
    assert "pump: RV-0031 opens at 39 bar ± 3 %; 33 bar above the highest load; certificate 2026-0330" in text
    verdict = accept(plan, tmp_path)
    assert any(text.startswith("The relief device RV-0031 of pump opens at 39 bar ± 3 %") for text in verdict.cautions)
    assert (verdict.part_serial_number, verdict.part_drawing, verdict.site, verdict.operators) == (
        *("S-0147", "200-031 issue b", "Hall 2"),
        (),
    )
    assert dict(of_verdict(verdict).lines()) == {
        "part's serial number": "S-0147",
        "part's drawing": "200-031 issue b",
        "site": "Hall 2",
        "relief device of pump": "RV-0031, opens at 39 bar ± 3 % (certificate 2026-0330)",
    }


LOCKS = """\
  overpressure: {channel: pressure, above: 38 bar}
  hoop strain: {channel: hoop, above: 700 µε}
  pressure rate: {channel: pressure, rising faster than: 1 bar/s, falling faster than: 2 bar/s, over: 4 s}
  time at pressure: {channel: pressure, above: 30 bar, for longer than: 20 min}
  hoop yield: {channel: hoop, above share of yield: 60 %}
"""
BARS = "109.7 bar, the load at first yield"


def refused(plan: Plan) -> dict[str, str]:
    """What is said at which place of rig.yaml."""
    try:
        refuse_unprotected(plan.rig, plan.procedure)
    except DocumentError as error:
        return {fault.where: fault.message for fault in error.faults}
    return {}


@pytest.mark.parametrize(
    ("old", "new", "where", "said"),
    [
        # first yield by Lame and von Mises at the bore: 109.7 bar, 1037 µε hoop (tests/reference/test_cylinders.py)
        ("above: 38 bar", "above: 380 bar", "interlocks.overpressure.above", f"'380 bar' is beyond {BARS} (part model"),
        ("above: 38 bar", "above: 110 bar", "interlocks.overpressure.above", f"'110 bar' is beyond {BARS}"),
        (
            *("above: 700 µε", "above: 1040 µε", "interlocks.hoop strain.above"),
            f"'1040 µε' is beyond 1037 µε, which it shows at {BARS} (part model 'cylinder'): it trips too late",
        ),
        (
            *("above: 700 µε", "below: -2000 µε", "interlocks.hoop strain.below"),
            f"'-2000 µε' is beyond 1037 µε, which it shows at {BARS}",
        ),
    ],
)
def test_an_interlock_that_trips_after_the_part_has_yielded(
    planned: Planned, old: str, new: str, where: str, said: str
) -> None:
    ((found, message),) = refused(planned(PROOF, (old, new))).items()
    assert found == where
    assert message.startswith(said)


@pytest.mark.parametrize(
    ("locks", "kept"),
    [
        (LOCKS, ""),
        ("  hoop strain: {channel: hoop, above: 1030 µε}\n", ""),
        ("  hoop yield: {channel: hoop, above share of yield: 90 %}\n", ""),
        # which tell nothing of the highest load before it is there
        ("  longest: {channel: pressure, above: 30 bar, for longer than: 20 min}\n", "sources.pump.limit"),
        ("  rate: {channel: pressure, rising faster than: 1 bar/s, over: 4 s}\n", "sources.pump.limit"),
        ("  cold: {channel: wall temperature, below: 5 °C}\n", "sources.pump.limit"),
    ],
)
def test_a_source_that_can_break_the_part_needs_an_interlock_before(planned: Planned, locks: str, kept: str) -> None:
    plan = planned(PROOF, ("limit: 40 bar", "limit: 400 bar"), (LOCKS, locks))
    assert list(refused(plan)) == ([kept] if kept else [])
    cautions = [text for text in plan.of_rig() if text.startswith(f"limit of pump: 400 bar is beyond {BARS}: ")]
    assert len(cautions) == (0 if kept else 1)


def test_a_gauge_that_hardly_strains_is_not_asked_for_yield(planned: Planned) -> None:
    """The gauge along a pipe that cannot grow longer: a limit on it watches something else than the part."""
    plan = planned(
        PROOF, ("ends: closed", "ends: fixed"), (LOCKS, f"{LOCKS}  along: {{channel: axial, above: 50 µε}}\n")
    )
    assert refused(plan) == {}


def test_what_no_part_model_knows_of_is_left_alone(planned: Planned) -> None:
    warm = f"{LOCKS}  warm: {{channel: wall temperature, above: 60 °C}}\n"
    assert refused(planned(PROOF, (LOCKS, warm))) == {}
