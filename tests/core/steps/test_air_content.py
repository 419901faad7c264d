"""Step `air content`: the volume that goes in tells how much air is left beside the water."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.errors import DocumentError
from rigproof.run.plan import Plan
from rigproof.run.rehearsal import rehearse
from rigproof.steps.air_content import _air_share
from rigproof.verdict.record import Check, Verdict

from .conftest import SHIPPED

STEP = "  - air content: {source: pump, volume: water taken in, between: [1 bar, 6 bar], content: within 0.2 %}\n"
BAR = 1e5
Accept = Callable[..., Verdict]


def taken(plan: Plan, accept: Accept, folder: Path, *flaws: str, seed: int = 1) -> Check:
    (check,) = accept(plan, folder, flaws=flaws, seed=seed, rig_folder=SHIPPED).checks
    return check


def test_half_of_it_has_gone_by_one_bar() -> None:
    """Half the air volume is taken up by 1 bar gauge (trade tables, GAS-01): an atmosphere of 1 bar, a rigid vessel."""
    assert _air_share(0.5e-3, 0.0, 1 * BAR, 0.1, 0.0, 0.0, 1 * BAR) == pytest.approx(0.01)


@given(
    share=st.floats(0.0, 0.05),
    low=st.floats(0.1, 3.0),
    rise=st.floats(1.0, 20.0),
    per_pa=st.floats(4e-10, 2e-9),
)
def test_it_is_what_went_in_turned_round(share: float, low: float, rise: float, per_pa: float) -> None:
    """Boyle written as the volume of the gas: p V stays; water and wall give way in proportion."""
    cavity, air = 0.0485, 1.01325 * BAR
    first, second = low * BAR, (low + rise) * BAR
    gas = share * cavity
    shrunk = gas * air / (air + first) - gas * air / (air + second)
    added = shrunk + cavity * per_pa * (second - first)
    found = _air_share(added, first, second, cavity, per_pa * first, per_pa * second, air)
    assert found == pytest.approx(share, abs=1e-12)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_full_spool_holds_none(plan: Callable[[str], Plan], accept: Accept, tmp_path: Path, seed: int) -> None:
    check = taken(plan(STEP), accept, tmp_path, seed=seed)
    assert (check.name, check.subject, check.finding) == ("air content", "water taken in", "accept")
    assert check.measured == pytest.approx(0.0, abs=3 * check.u)
    assert {"part volume", "air pressure", "water taken in: accuracy of reading"} <= {
        line.input for line in check.budget
    }


@pytest.mark.parametrize("percent", [0.5, 2.0])
def test_what_is_left_in_it_is_measured(
    plan: Callable[[str], Plan], accept: Accept, tmp_path: Path, percent: float
) -> None:
    check = taken(plan(STEP), accept, tmp_path, f"trapped-gas={percent} %")
    assert check.finding == "reject"
    assert check.measured == pytest.approx(percent / 100, abs=3 * check.u)
    assert check.u < 0.04 * percent / 100


def test_on_paper_a_full_part_is_foreseen(plan: Callable[[str], Plan]) -> None:
    (step,) = rehearse(plan(STEP).rig, plan(STEP).procedure)
    (foreseen,) = step.checks
    assert not step.trouble
    assert foreseen.acceptable
    assert foreseen.check.measured == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("[1 bar, 6 bar]", "[6 bar, 1 bar]", "6 bar, 1 bar do not rise"),
        ("[1 bar, 6 bar]", "[0 bar, 6 bar]", "0 bar, 6 bar do not rise"),
        ("[1 bar, 6 bar]", "[1 bar, 60 bar]", "above the source's limit of 40 bar"),
        ("volume: water taken in", "volume: water", "'water' is no channel that measures a volume"),
        ("source: pump", "source: pumps", "'pumps' is no source of the rig"),
    ],
)
def test_what_does_not_fit_is_refused_at_its_place(plan: Callable[[str], Plan], old: str, new: str, fault: str) -> None:
    with pytest.raises(DocumentError) as raised:
        plan(STEP.replace(old, new))
    assert fault in str(raised.value)


def test_a_part_without_a_volume_is_told(planned: Callable[..., Plan]) -> None:
    """The spool of the tests states none, and has no channel for it."""
    with pytest.raises(DocumentError) as raised:
        planned(STEP)
    assert "'water taken in' is no channel that measures a volume" in str(raised.value)
    assert "the part states no volume of water" in str(raised.value)
    assert {fault.remedy for fault in raised.value.faults} == {
        "add one to rig.yaml with `measures: volume`",
        "write the part's `volume`; of a part filled with gas the step shows nothing, leave it out",
    }
