"""The default procedure of the spool catches each flaw at its default size, by the check that is made for it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.run.plan import Plan
from rigproof.verdict.record import Verdict
from rigproof_twin.flaws import FLAWS

# By flaw: the step and the check that must not accept, or the words that say why the run is void.
CAUGHT_BY = {
    "soft-bond": ("cycles", "zero return", "hoop"),
    "loose-gauge": ("cycles", "sensitivity", "hoop"),
    "wrong-gauge-factor": ("cycles", "sensitivity", "hoop"),
    "damaged-grid": ("resistance", "change from packet", "hoop"),
    "leakage": ("insulation", "insulation", "hoop"),
    "swapped-channels": ("cycles", "sensitivity", "axial"),
    "two-leads": ("shunt", "shunt reading", "hoop"),
    "open-lead": "gives no reading",
    "wrong-shunt": ("shunt", "shunt reading", "axial"),
    "drifting-zero": ("cycles", "zero return", "hoop"),
    "dead-instrument": "instrument lost",
    "high-pressure-reading": ("cycles", "sensitivity", "hoop"),
    "thin-wall": ("cycles", "sensitivity", "hoop"),
    "yielding": ("proof", "permanent set", "hoop"),
    "slow-leak": ("proof", "decay over the hold", "pressure"),
    "overshoot": "overpressure",
}
SEED = 0  # its healthy rig is accepted, see below


def test_the_healthy_rig_is_accepted(accept: Callable[..., Verdict], spool: Plan, tmp_path: Path) -> None:
    assert accept(spool, tmp_path, (), SEED).verdict == "accept"


def test_every_flaw_has_its_check() -> None:
    assert CAUGHT_BY.keys() == FLAWS.keys()


@pytest.mark.parametrize("name", FLAWS)
def test_it_is_caught(accept: Callable[..., Verdict], spool: Plan, tmp_path: Path, name: str) -> None:
    verdict, caught_by = accept(spool, tmp_path, [name], SEED), CAUGHT_BY[name]
    if isinstance(caught_by, str):
        assert verdict.verdict == "void"
        assert caught_by in " ".join(verdict.why)
    else:
        assert verdict.verdict == "reject"
        rejected = {(c.step_kind, c.name, c.subject) for c in verdict.checks if c.finding == "reject"}
        assert caught_by in rejected
