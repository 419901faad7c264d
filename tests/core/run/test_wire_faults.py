"""A bounded sample of `python tests/wirefaults.py`: every kind of fault, no false accept, no traceback, always safe."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).parents[2] / "wirefaults.py"
RUNS, SEED = 40, 2


@pytest.fixture(scope="module")
def wirefaults() -> ModuleType:
    spec = importlib.util.spec_from_file_location("wirefaults", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["wirefaults"] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


def test_a_sample_of_all_kinds(wirefaults: ModuleType) -> None:
    campaign = wirefaults.Campaign()
    ran = [campaign.run(case) for case in wirefaults.drawn(campaign, RUNS, SEED)]
    wrong = [each for each in ran if each.outcome in wirefaults.WRONG]
    assert wrong == []
    struck = [each for each in ran if each.struck]
    assert {each.case.fault.kind for each in struck} == set(wirefaults.faults.KINDS)
    assert "void" in {each.outcome for each in struck}
    assert any(each.outcome == "accept" and each.retries for each in struck)


def test_a_leak_behind_a_frozen_transmitter_is_not_accepted(wirefaults: ModuleType) -> None:
    """The readings of the hold are old ones; before and after it the transmitter is as good as ever."""
    campaign = wirefaults.Campaign()
    assert campaign.sound(0, "slow-leak=2 bar/min").verdict.verdict == "reject"
    outcomes = set()
    for after in range(430, 560, 20):
        fault = wirefaults.Fault(wirefaults.faults.STALE, after=after, times=60)
        case = wirefaults.Case(0, "slow-leak=2 bar/min", False, "transmitter", fault)
        outcomes.add(campaign.run(case).outcome)
    assert outcomes <= {"undecided", "reject", "void"}


def test_a_tester_that_only_reads_overload_accepts_no_leak(wirefaults: ModuleType) -> None:
    """As one whose leads are off: above the range in both polarities."""
    fault = wirefaults.Fault(wirefaults.faults.OVERLOAD, after=0, times=float("inf"))
    case = wirefaults.Case(0, "leakage=20 MΩ", False, "insulation tester", fault)
    assert wirefaults.Campaign().run(case).outcome == "undecided"


def test_a_pump_that_can_no_more_be_reached_is_cried_out(wirefaults: ModuleType) -> None:
    """Lost for good while it is on: software can do no more than say so."""
    fault = wirefaults.Fault(wirefaults.faults.LOST_LINK, after=200, times=float("inf"))
    assert wirefaults.Campaign().run(wirefaults.Case(0, "", False, "pump", fault)).outcome == "void, alarm"
