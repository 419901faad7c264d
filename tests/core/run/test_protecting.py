"""Relief devices: above every load of the procedure, below what the part bears, and told wherever people look."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.commands.plan_text import text_of
from rigproof.errors import DocumentError
from rigproof.plugins import Registry
from rigproof.run.plan import Plan, make_plan
from rigproof.run.planned import planned as planned_record
from rigproof.run.protecting import refuse_reliefs, relief_cautions
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
    refuse_reliefs(plan.rig, plan.procedure)


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
        refuse_reliefs(plan.rig, plan.procedure)
    (fault,) = refused.value.faults
    assert fault.where == "sources.pump.relief device.set pressure"
    assert said in fault.message


def test_it_is_held_against_the_loads_of_its_own_source(planned: Planned) -> None:
    """Which goes nowhere where no step loads by it."""
    plan = planned("  - balance: {}\n", relieved("2 bar", ", certificate: 2026-0330"))
    refuse_reliefs(plan.rig, plan.procedure)
    (said,) = relief_cautions(plan.rig, plan.procedure)
    assert said == (
        "The relief device of pump opens at 2 bar (certificate 2026-0330): see that it is fitted, free and proved "
        "before any load."
    )


def test_where_none_is_written_people_are_told_between_what_it_must_open(planned: Planned) -> None:
    plan = planned(PROOF)
    (said,) = relief_cautions(plan.rig, plan.procedure)
    assert said.startswith("No relief device is written for pump: fit one that opens above 36.11 bar and below 109.7")
    assert said in plan.cautions()
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
