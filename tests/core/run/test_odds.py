"""How often a sound rig passes: against shapes of closed form, and told where a procedure is made and looked at."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Sequence
from dataclasses import replace
from math import erf, sqrt
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.commands.plan_text import OFTEN, text_of
from rigproof.errors import ExitCode
from rigproof.run.odds import LIKELY, unlikely, unlikely_of
from rigproof.run.plan import Plan
from rigproof.run.planned import planned as planned_record
from rigproof.run.rehearsal import Rehearsed
from rigproof.steps.foresee import Foreseen
from rigproof.verdict.record import BudgetLine, Check, ToleranceRecord

Planned = Callable[..., Plan]
LOW = (
    "  - cycles: {source: pump, to: 8 bar, times: 3, levels: 5}\n"  # 1 % of 19 µε axial is no more than a bridge drifts
)


def line(contribution: float, shape: str) -> BudgetLine:
    return BudgetLine(
        input=f"{shape} {contribution}", value=0.0, u=contribution, unit="1", dof=None, shape=shape, sensitivity=1.0,
        contribution=contribution, share=0.0,
    )  # fmt: skip


def check(within: float, *lines: BudgetLine, **changed: object) -> Foreseen:
    u = sqrt(sum(each.contribution**2 for each in lines))
    values = {
        "step": 1,
        "step_kind": "cycles",
        "name": "zero return",
        "subject": "hoop",
        "kind": "ratio",
        "measured": 0.0,
        "u": u,
        "dof": None,
        "tolerance": ToleranceRecord(lower=-1.0, upper=1.0, origin="", computed=False),
        "guard_band": 1 - within,
        "acceptance_lower": -within,
        "acceptance_upper": within,
        "conformance_probability": None,
        "finding": "accept",
        "budget": lines,
    }
    return Foreseen(Check.model_validate(values | changed), acceptable=True)


@pytest.mark.parametrize(
    ("lines", "within", "chance"),
    [
        ([line(1.0, "normal")], 1.0, erf(1 / sqrt(2))),
        ([line(3.0, "normal"), line(4.0, "normal")], 5.0, erf(1 / sqrt(2))),
        ([line(1 / sqrt(3), "rectangular")], 0.4, 0.4),
        ([line(1 / sqrt(3), "rectangular")], 1.1, 1.0),
        ([line(1 / sqrt(3), "rectangular"), line(1 / sqrt(3), "rectangular")], 0.5, 1 - 0.75**2),  # a triangle to 2
        ([], 0.5, 1.0),
    ],
)
def test_the_chance_of_closed_form(lines: list[BudgetLine], within: float, chance: float) -> None:
    assert check(within, *lines).chance == pytest.approx(chance, abs=2e-4)


def test_an_open_side_and_a_reading_away_from_the_middle() -> None:
    """One u below the limit: one side of a normal law, 84 %."""
    found = check(1.0, line(1.0, "normal"), measured=0.5, acceptance_lower=None, acceptance_upper=1.5)
    assert found.chance == pytest.approx(0.5 + erf(1 / sqrt(2)) / 2, abs=1e-6)


def test_where_nothing_tells_it() -> None:
    """A computed tolerance is decided by its coverage; of an insulation the limit was looked at."""
    computed = ToleranceRecord(lower=-1.0, upper=1.0, origin="", computed=True)
    assert check(1.0, line(1.0, "normal"), tolerance=computed).chance is None
    assert check(1.0, line(1.0, "normal"), measured=None).chance is None
    assert check(1.0, line(1.0, "normal"), acceptance_lower=None, acceptance_upper=None).chance == 0.0


@pytest.fixture(scope="module")
def low(planned: Planned) -> Sequence[Rehearsed]:
    return planned(LOW).rehearsed


def test_a_check_that_gives_a_u_alone_is_told_too(low: Sequence[Rehearsed]) -> None:
    """A plugin's step need not give a budget."""
    (said,) = unlikely_of([replace(low[0], checks=(check(1.0, u=1.0),))])
    assert said == "1 cycles: at most 68 in 100 pass zero return of hoop: a higher load or a wider limit helps"


def test_the_rectangles_of_a_rig_give_what_they_must(planned: Planned, low: Sequence[Rehearsed]) -> None:
    """Load at the zero rests on one rectangle, hysteresis on two alike and a little else."""
    (zero,) = (each for each in planned(LOW.replace("8", "6")).rehearsed[0].checks if "at the zero" in each.check.name)
    assert zero.check.acceptance_upper is not None
    assert zero.chance == pytest.approx(zero.check.acceptance_upper / (sqrt(3) * zero.check.u), abs=2e-3)
    assert zero.chance == pytest.approx(0.6, abs=2e-3)  # ± 0.03 bar less nine tenths of 0.02 bar, of 0.02 bar
    by_name = {(each.check.name, each.check.subject): each for each in low[0].checks}
    hysteresis = by_name["hysteresis", "axial"]
    assert hysteresis.check.acceptance_upper is not None
    left = 1 - hysteresis.check.acceptance_upper / (sqrt(6) * hysteresis.check.u)
    assert hysteresis.chance == pytest.approx(1 - left**2, abs=0.02)


def test_what_is_often_undecided_says_why_and_what_helps(low: Sequence[Rehearsed]) -> None:
    told = list(unlikely_of(low))
    assert any(
        text.startswith("1 cycles: at most ")
        and "hysteresis" in text
        and "of axial: 99 % of the variance is channels.axial.accuracy.zero drift and accuracy.resolution (0.05 µV/V,"
        in text
        and text.endswith("; a better instrument, a higher load or a wider limit helps")
        for text in told
    ), told
    assert all("of hoop" not in text for text in told)  # which strains four times as much


def test_a_higher_load_helps(planned: Planned) -> None:
    steps = planned(LOW.replace("8 bar", "32 bar")).rehearsed
    assert list(unlikely_of(steps)) == []
    assert not any(unlikely(found) for found in steps[0].checks)


def test_the_plan_marks_the_row_and_lists_it(planned: Planned) -> None:
    record = planned_record(planned(LOW))
    (row,) = (each for each in record.steps[0].checks if (each.name, each.subject) == ("hysteresis", "axial"))
    assert row.chance is not None
    assert 0.0 < row.chance < LIKELY
    text = text_of(record)
    (line_of_row,) = (each for each in text.splitlines() if each.strip().startswith("hysteresis: axial"))
    assert line_of_row.endswith(" !")
    assert not any(each.endswith(" !") for each in text.splitlines() if each.strip().startswith("hysteresis: hoop"))
    assert f"\n{OFTEN}\n  - 1 cycles: at most " in text


def test_check_says_it_and_nothing_stands_against_a_run(
    spool_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig = tmp_path / "rig"
    shutil.copytree(spool_folder, rig)
    (rig / "acceptance.yaml").write_text(f"rigproof: procedure/1\nname: x\nsteps:\n  - arming: {{source: pump}}\n{LOW}")
    assert run(["check", str(rig)]) == ExitCode.ACCEPT
    shown = capsys.readouterr().out
    assert f"  {OFTEN}:\n    - 2 cycles: at most " in shown
    assert "\nnothing stands against a run with --simulated, and what is said above is to be minded; without" in shown
    assert run(["check", str(rig), "--json"]) == ExitCode.ACCEPT
    assert json.loads(capsys.readouterr().out)["often_undecided"][0].startswith("2 cycles: at most ")
