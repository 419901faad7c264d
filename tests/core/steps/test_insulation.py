"""Insulation counts only as measured in both polarities; above a tester's range, only where its leads were proved."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import pytest

from rigproof.journal import Entry
from rigproof.run.plan import Plan
from rigproof.steps.insulation import Insulation
from rigproof.steps.record import StepRecord
from rigproof.uncertainty import Rule
from rigproof.verdict.record import Check, Verdict

Judged = Callable[[Iterable[Entry]], Verdict]


def measured(entries: Sequence[Entry], ohm: Callable[[float], float | None]) -> list[Entry]:
    """The journal of a tester that read `ohm` of the test voltage (V)."""
    return [replace(e, data={**e.data, "ohm": ohm(e.data["volt"])}) if e.kind == "insulation" else e for e in entries]


def changed(entries: Sequence[Entry], document: str, old: str, new: str) -> list[Entry]:
    head, *rest = entries
    about = head.data[document]
    assert old in about["text"]
    return [replace(head, data={**head.data, document: {**about, "text": about["text"].replace(old, new)}}), *rest]


def insulations(verdict: Verdict) -> list[Check]:
    return [check for check in verdict.checks if check.name == "insulation"]


@pytest.mark.parametrize(
    ("stated", "leads_proved", "finding", "why"),
    [
        ("\n    highest reading: 1 TΩ", True, "accept", ""),
        ("\n    highest reading: 1 GΩ", True, "accept", ""),
        ("\n    highest reading: 1 TΩ", False, "undecided", "as a lead that is off would be; prove the leads"),
        ("\n    highest reading: 100 MΩ", True, "undecided", "which is below what is asked"),
        ("", True, "undecided", "which rig.yaml does not state"),
    ],
)
def test_above_a_range_it_shows_no_more_than_the_range(
    sound: Sequence[Entry], judged: Judged, stated: str, leads_proved: bool, finding: str, why: str
) -> None:
    entries = changed(measured(sound, lambda _: None), "rig", "\n    highest reading: 1 TΩ", stated)
    if leads_proved:
        entries = changed(entries, "procedure", "insulation: {}", "insulation: {above range: accept}")
    verdict = judged(entries)
    assert [check.finding for check in insulations(verdict)] == [finding] * 2
    assert all(why in check.note for check in insulations(verdict))
    assert verdict.verdict == finding


def test_above_the_range_in_one_polarity_it_counts_by_the_other(sound: Sequence[Entry], judged: Judged) -> None:
    verdict = judged(measured(sound, lambda volt: None if volt > 0 else 2e8))
    assert [check.finding for check in insulations(verdict)] == ["reject"] * 2


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
