"""Insulation counts only when it was measured in both polarities."""

from __future__ import annotations

import pytest

from rigproof.journal import Entry
from rigproof.run.plan import Plan
from rigproof.steps.insulation import Insulation
from rigproof.steps.record import StepRecord
from rigproof.uncertainty import Rule


@pytest.mark.parametrize(
    ("volts", "finding"), [((50.0, -50.0), "accept"), ((50.0, 50.0), "undecided"), ((-50.0,), "undecided")]
)
def test_both_polarities_are_wanted(spool: Plan, volts: tuple[float, ...], finding: str) -> None:
    entries = tuple(
        Entry(n, 0.0, "insulation", {"strain_channel": "hoop", "volt": volt, "ohm": 2e10})
        for n, volt in enumerate(volts)
    )
    step = Insulation(channels="hoop")
    (check,) = step.judge(spool.rig, Rule(), StepRecord(1, "insulation", entries))
    assert check.finding == finding
