"""Step `thermal output`: what temperature alone makes a gauge show, on a part that is left to warm up."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.errors import DocumentError
from rigproof.run.plan import Plan
from rigproof.run.rehearsal import rehearse
from rigproof.verdict.record import Check, Verdict

from .conftest import SHIPPED

STEP = "  - thermal output: {channels: hoop, change: 3 K, difference: within 2 µε/K}\n"
Accept = Callable[..., Verdict]


def taken(plan: Plan, accept: Accept, folder: Path, *flaws: str, seed: int = 1) -> list[Check]:
    return list(accept(plan, folder, flaws=flaws, seed=seed, rig_folder=SHIPPED).checks)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_sound_gauge_shows_what_its_packet_says(
    plan: Callable[[str], Plan], accept: Accept, tmp_path: Path, seed: int
) -> None:
    """± 0.5 ppm/K of the gauge and ± 0.3 of the part, rectangular: u = 0.34 µε/K, and no sound one is beyond 0.8."""
    (check,) = taken(plan(STEP), accept, tmp_path, seed=seed)
    assert (check.name, check.subject, check.finding) == ("thermal output", "hoop", "accept")
    assert check.measured is not None
    assert abs(check.measured) < 0.85e-6
    assert check.u == pytest.approx(0.337e-6, rel=0.05)
    assert check.at.endswith("expected taken out")


def test_a_gauge_for_aluminium_on_steel(plan: Callable[[str], Plan], accept: Accept, tmp_path: Path) -> None:
    """About 12 µε/K, below what is expected (common practice, no source: gauges for the one on the other)."""
    (check,) = taken(plan(STEP), accept, tmp_path, "thermal-mismatch=23 ppm/K")
    assert check.finding == "reject"
    assert check.measured == pytest.approx(-12e-6, abs=0.9e-6)


def test_a_part_that_never_warms_shows_nothing(planned: Callable[..., Plan], accept: Accept, tmp_path: Path) -> None:
    """In a bay that keeps its temperature."""
    steps = "  - thermal output: {channels: hoop, patience: 5 min}\n"
    (check,) = accept(planned(steps), tmp_path).checks
    assert (check.finding, check.measured) == ("undecided", None)
    assert check.note.startswith("wall temperature has moved by 0.0")
    assert check.note.endswith(" K, not by 3 K after 5 min")


def test_one_that_is_still_warming_up_shows_nothing(
    plan: Callable[[str], Plan], accept: Accept, tmp_path: Path
) -> None:
    """5 K with a time constant of 3 min: after 5 min 3 K are passed, and it moves by 19 K/h."""
    (check,) = taken(plan(STEP.replace("change", "patience: 5 min, change")), accept, tmp_path)
    assert check.finding == "undecided"
    assert check.note == "the temperature moves by more than 1 K/h after 5 min"


def test_on_paper_it_is_foreseen_with_its_guard_band(plan: Callable[[str], Plan]) -> None:
    """Between 2 µε/K and the guard band of 1.645 u."""
    (step,) = rehearse(plan(STEP).rig, plan(STEP).procedure)
    (foreseen,) = step.checks
    assert not step.trouble
    assert foreseen.acceptable
    assert foreseen.check.measured == pytest.approx(0.0, abs=1e-9)
    assert foreseen.check.acceptance_upper == pytest.approx(2e-6 - 1.645 * 0.337e-6, rel=0.02)


def test_a_gauge_without_a_thermometer_is_refused_at_the_step(planned: Callable[..., Plan]) -> None:
    beside = "    temperature: wall temperature                    # read beside every strain: takes the thermal output"
    with pytest.raises(DocumentError, match="nothing says how warm the gauge of 'hoop' is"):
        planned(STEP, (f"{beside} out\n", ""))
