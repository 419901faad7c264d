"""Work that people did: from the entries of the record to checks and to an installation record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import inf
from typing import Any

from rigproof.quantities import show
from rigproof.uncertainty import Estimate, Rule, Tolerance
from rigproof.verdict.record import Check, WorkRecord

from .checks import Subject, specified_check
from .guard import missing
from .record import StepRecord
from .tasks import WORK, Task

CONCESSION = "concession"  # what the rule of a check begins with that stands by a person's word
BY_THE_CLOCK, BY_WORD = "by the clock of the run", "by the word of a person"  # rules of the others
AS_TYPED = "as typed, taken as exact"


def title_of(work: str, gauge: str | None) -> str:
    """A work as questions and records call it: `bonding, top`; no name of a work has a comma."""
    return work if gauge is None else f"{work}, {gauge}"


def is_of(entry: Mapping[str, Any], work: str) -> bool:
    """Whether a work entry belongs to a work, whatever gauge it was done to."""
    return str(entry["of"]).partition(", ")[0] == work


def works(record: StepRecord) -> dict[str, dict[str, Any]]:
    """The work entries of a step by item; of takings before a pause, too, and the last of each item."""
    entries = [entry for taking in (*record.earlier, record) for entry in taking.events(WORK)]
    return {entry["item"]: entry for entry in entries}


def work_checks(rule: Rule, record: StepRecord, of: str, tasks: Sequence[Task], concessions: bool) -> Iterator[Check]:
    """How many are done, then each time and each value."""
    found = works(record)
    done = [task for task in tasks if task.name in found and found[task.name]["done"]]
    refused = [f"{name}: {entry['refused']}" for name, entry in found.items() if not entry["done"]]
    about = Subject("items done", of, "number")
    if refused or len(done) == len(tasks):
        yield exact_check(record, about, len(done), Tolerance(len(tasks), None), rule, "procedure", "; ".join(refused))
    else:
        yield missing(record, about, f"{len(done)} of {len(tasks)} were told, and then the step ended")
    for task in done:
        yield from _of_one(rule, record, of, task, found[task.name], concessions)


def _of_one(
    rule: Rule, record: StepRecord, of: str, task: Task, entry: Mapping[str, Any], concessions: bool
) -> Iterator[Check]:
    if task.at_least is not None:
        about, limits = Subject("time", of, "time", task.name), Tolerance(task.at_least.value, None)
        check = exact_check(record, about, entry["took_s"], limits, rule, task.at_least_origin, by=BY_THE_CLOCK)
        yield conceded(check, entry["short"], entry["person"], concessions)
    if task.measured is not None:
        measured = task.measured
        about = Subject(measured.of, of, measured.lowest.kind, task.name)
        limits = Tolerance(measured.lowest.value, measured.highest.value)
        check = exact_check(record, about, entry["value"], limits, rule, measured.origin, AS_TYPED)
        yield conceded(check, entry["keep"], entry["person"], concessions)


def exact_check(
    record: StepRecord,
    about: Subject,
    value: float,
    limits: Tolerance,
    rule: Rule,
    origin: str,
    note: str = "",
    by: str = BY_WORD,
) -> Check:
    """A check of what a clock or a person told: no uncertainty, hence no guard band and no probability."""
    check = specified_check(record, about, Estimate(float(value), 0.0, inf), limits, rule, origin, note)
    return check.model_copy(update={"rule": by, "conformance_probability": None})


def conceded(check: Check, reason: str, person: str, allowed: bool) -> Check:
    """A check that falls short and that a person signed for: accepted by concession, with the reason."""
    if check.finding == "accept" or not (reason and allowed):
        return check
    return check.model_copy(
        update={"finding": "accept", "rule": f"{CONCESSION} by {person}", "note": f"signed for: {reason}"}
    )


def work_record(step: int, task: Task, entry: Mapping[str, Any]) -> WorkRecord:
    """One line of the installation record."""
    measured = task.measured
    return WorkRecord(
        step=step,
        of=entry["of"],
        item=task.name,
        text=task.text,
        origin=task.origin,
        person=entry["person"],
        ended=entry["utc"],
        took=entry["took_s"],
        at_least=task.at_least.value if task.at_least else None,
        at_least_origin=task.at_least_origin,
        measured=measured.of if measured else "",
        value=entry["value"],
        lowest=measured.lowest.value if measured else None,
        highest=measured.highest.value if measured else None,
        kind=measured.lowest.kind if measured else "",
        range_origin=measured.origin if measured else "",
        done=entry["done"],
        deviations=tuple(deviations(entry, task)),
    )


def deviations(entry: Mapping[str, Any], task: Task) -> Iterator[str]:
    """What is not as asked, each with its reason."""
    if entry["refused"]:
        yield f"not done: {entry['refused']}"
    if entry["short"] and task.at_least is not None:
        yield f"{show(entry['took_s'], 'time', 4)} in place of at least {task.at_least.text}: {entry['short']}"
    if entry["keep"] and task.measured is not None:
        value = show(entry["value"], task.measured.lowest.kind, 4)
        yield f"{task.measured.of} {value}, not {task.measured.range}: {entry['keep']}"
