"""What is written without an uncertainty is named where it matters, and a channel that states none judges nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.documents import load_rig
from rigproof.errors import DocumentError
from rigproof.journal import read_journal
from rigproof.plugins import Registry
from rigproof.run.exact import taken_as_exact
from rigproof.run.plan import Plan
from rigproof.verdict.record import Verdict

Planned = Callable[..., Plan]
CYCLES = (
    "  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 1 s, readings: 2}\n"
)
SHUNT = "  - shunt: {resistor: 174.8 kΩ}\n"
PRESSURE = "    accuracy: {of reading: 0.1 %, fixed: 0.02 bar, zero drift: 0.005 bar}\n"
DRIFT = "accuracy zero drift"
STRAIN = "    accuracy: {of reading: 0.05 %, zero drift: 0.05 µV/V, resolution: 0.005 µV/V}\n"


def exact(plan: Plan) -> str:
    return taken_as_exact(plan.rig, plan.procedure, plan.highest_load)


def test_nothing_is_exact_where_everything_has_its_uncertainty(spool: Plan) -> None:
    assert exact(spool) == ""


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ("206 GPa ± 2 %", "206 GPa", "part: elastic modulus"),
        ("{value: 4.52 mm, U: 0.06 mm, k: 2}", "4.52 mm", "part: wall"),
        ("2.08 ± 0.5 %", "2.08", "hoop: gauge factor; axial: gauge factor"),
        ("0.4 % ± 0.2 %", "0 %", "hoop: transverse sensitivity; axial: transverse sensitivity"),
        ("lead: 0.8 Ω ± 10 %", "lead: 0.8 Ω", "hoop: lead; axial: lead"),
        ("11.7 ppm/K ± 0.3 ppm/K", "11.7 ppm/K", "part: expansion"),
        (PRESSURE.strip(), "accuracy: {fixed: 0.02 bar}", "pressure: accuracy of reading"),
        ("zero drift: 0.05 µV/V, resolution: 0.005 µV/V", "fixed: 1 µV/V", f"hoop: {DRIFT}; axial: {DRIFT}"),
    ],
)
def test_an_exact_value_that_matters_is_named(planned: Planned, old: str, new: str, named: str) -> None:
    plan = planned(CYCLES, (old, new))
    assert f"taken as exact ({named}): what" in exact(plan)
    assert exact(plan) in plan.cautions


def test_an_exact_value_of_a_step_is_named_and_what_does_not_matter_is_not(planned: Planned) -> None:
    plan = planned(SHUNT, ("206 GPa ± 2 %", "206 GPa"))  # nothing is loaded: the modulus is not asked for
    assert "exact (step 1 shunt: resistor): what" in exact(plan)


def test_the_cautions_of_a_verdict_name_it(planned: Planned, accept: Callable[..., Verdict], tmp_path: Path) -> None:
    plan = planned(SHUNT)
    assert exact(plan) in accept(plan, tmp_path).cautions
    assert exact(plan) in read_journal(tmp_path / "journal.jsonl").entries[0].data["cautions"]


@pytest.mark.parametrize(
    ("steps", "changes", "where"),
    [
        (CYCLES, [(PRESSURE, "")], ["channels.pressure"]),
        (CYCLES, [(PRESSURE, "    accuracy: {of reading: 0 %}\n")], ["channels.pressure"]),
        (CYCLES, [(STRAIN, "")], ["channels.hoop", "channels.axial"]),
        ("  - shunt: {channels: hoop, resistor: 1 kΩ}\n", [(STRAIN, "")], ["channels.hoop"]),
    ],
)
def test_a_strain_or_load_without_accuracy_is_not_judged_by(
    planned: Planned, steps: str, changes: list[tuple[str, str]], where: list[str]
) -> None:
    with pytest.raises(DocumentError) as error:
        planned(steps, *changes)
    assert [fault.where for fault in error.value.faults] == where
    assert all("no `accuracy:` says how wrong it may read" in fault.message for fault in error.value.faults)
    assert all("zero drift: …" in fault.remedy for fault in error.value.faults)


def test_what_no_step_judges_by_may_state_nothing(planned: Planned, spool: Plan, registry: Registry) -> None:
    planned("  - resistance: {}\n  - insulation: {}\n", (PRESSURE, ""), (STRAIN, ""))
    assert (
        not load_rig(text=spool.rig.text.replace(PRESSURE, ""), registry=registry).channels["pressure"].accuracy.stated
    )
