"""From a journal to a verdict: a pure function of the record, so that it can be made again years later."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any, Literal

from rigproof.documents import Procedure, Rig, load_procedure, load_rig
from rigproof.errors import JournalError, RigproofError
from rigproof.journal import Entry, Journal
from rigproof.plugins import Registry
from rigproof.steps.as_found import as_found
from rigproof.steps.base import ASPECTS, RESPONSE_TO_LOAD, Step
from rigproof.steps.record import StepRecord
from rigproof.uncertainty import Rule

from .record import (
    Check,
    DocumentRecord,
    Finding,
    InstrumentRecord,
    Outcome,
    PluginRecord,
    SafeEnd,
    StepSummary,
    TwinRecord,
    Verdict,
)


def judge_step(step: Step, rig: Rig, rule: Rule, record: StepRecord) -> tuple[list[Check], str]:
    """The checks of one step, and why there are none where the record cannot be computed with."""
    try:
        return list(step.judge(rig, rule, record)), ""
    except RigproofError as error:
        return [], f"cannot be judged: {error}"


def judge(journal: Journal, registry: Registry) -> Verdict:
    """The verdict of a run from its journal and the installed models. Raises `JournalError`, `DocumentError`."""
    head = _head(journal)
    rig = load_rig(text=head["rig"]["text"], name=head["rig"]["file"], registry=registry)
    procedure = load_procedure(text=head["procedure"]["text"], name=head["procedure"]["file"], registry=registry)
    checks: list[Check] = []
    steps: list[StepSummary] = []
    found_rig = rig
    for number, step in enumerate(procedure.steps, 1):
        record, whole = _record_of(step, number, journal.entries)
        summary, found = _judge_one(step, rig if step.by_packet else found_rig, procedure, record, whole)
        steps.append(summary)
        checks += found
        found_rig = as_found(found_rig, record)
    shown, not_shown = _shown(steps)
    end = _last(journal.entries, "end")
    instruments = tuple(InstrumentRecord(**entry.data) for entry in journal.entries if entry.kind == "instrument")
    outcome, why = _outcome(end, steps, checks, shown, _overdue(instruments, head["utc"]))
    rule = procedure.decision
    return Verdict(
        verdict=outcome,
        why=tuple(why),
        simulated=head["simulated"],
        twin=TwinRecord(**head["twin"]) if head["twin"] else None,
        rig=DocumentRecord(name=rig.name, sha256=rig.sha256),
        part=f"{rig.part.kind}, load: {rig.part.load}",
        procedure=DocumentRecord(name=procedure.name, sha256=procedure.sha256),
        journal=DocumentRecord(name="journal.jsonl", sha256=journal.sha256),
        started=head["utc"],
        ended=end["utc"] if end else "",
        end=f"{end['how']}: {end['why']}" if end else "the journal has no end: the run was killed",
        decision_rule=rule.rule,
        risk=rule.risk,
        coverage=rule.coverage,
        instruments=instruments,
        plugins=tuple(PluginRecord(**plugin) for plugin in head["plugins"]),
        steps=tuple(steps),
        checks=tuple(checks),
        shown=shown,
        not_shown=not_shown,
        safe_end=_safe_ends(journal.entries),
        cautions=tuple(head["cautions"]),
    )


def _head(journal: Journal) -> dict[str, Any]:
    if not journal.entries or journal.entries[0].kind != "run":
        raise JournalError("the journal does not begin with a run; give the journal.jsonl that `rigproof run` wrote")
    return journal.entries[0].data


def _last(entries: Iterable[Entry], kind: str) -> dict[str, Any] | None:
    found = [entry.data for entry in entries if entry.kind == kind]
    return found[-1] if found else None


def _record_of(step: Step, number: int, entries: Sequence[Entry]) -> tuple[StepRecord, bool]:
    """What a step wrote, and whether it was gone through to its end; empty where it was not begun."""
    marks = [i for i, e in enumerate(entries) if e.kind == "step" and e.data["step"] == number]
    whole = bool(marks) and entries[marks[-1]].data["taken"] == "whole"
    span = entries[marks[0] : marks[-1] if whole else len(entries)] if marks else ()
    return StepRecord(number, step.kind, tuple(span)), whole


def _judge_one(
    step: Step, rig: Rig, procedure: Procedure, record: StepRecord, whole: bool
) -> tuple[StepSummary, list[Check]]:
    number = record.step
    begun = [event for event in record.events("step") if event["step"] == number]
    if not begun or begun[0]["taken"] == "not taken":
        why = begun[0]["why"] if begun else "the run ended before it"
        return StepSummary(step=number, kind=step.kind, taken="not taken", why=why, finding=None, shows=step.shows), []
    checks, trouble = judge_step(step, rig, procedure.decision, record)
    stopped = [event["why"] for event in record.events("phase") if event["what"] == "rise stopped"]
    why = trouble or ("" if whole else "the run ended in it") or "; ".join(stopped)
    taken: Literal["whole", "broken off"] = "whole" if whole and not stopped else "broken off"
    finding = worst(check.finding for check in checks) if checks else ("undecided" if whole else None)
    return StepSummary(step=number, kind=step.kind, taken=taken, why=why, finding=finding, shows=step.shows), checks


def worst(findings: Iterable[Finding]) -> Finding:
    """Reject over undecided over accept."""
    found = set(findings)
    return "reject" if "reject" in found else "undecided" if "undecided" in found else "accept"


def _shown(steps: Sequence[StepSummary]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What accepted steps showed, and what nobody showed."""
    accepted = [a for s in steps if s.finding == "accept" and s.taken == "whole" for a in s.shows]
    shown = tuple(dict.fromkeys(accepted))
    return shown, tuple(aspect for aspect in ASPECTS if aspect not in shown)


def _outcome(
    end: dict[str, Any] | None,
    steps: Sequence[StepSummary],
    checks: Sequence[Check],
    shown: Sequence[str],
    overdue: Sequence[str],
) -> tuple[Outcome, list[str]]:
    """The verdict and its reasons, the worst first."""
    if end is None:
        return "void", ["the run was killed: its journal has no end"]
    if end["how"] != "finished":
        return "void", [f"{end['how']}: {end['why']}"]
    rejected = [_words(check) for check in checks if check.finding == "reject"]
    open_points = [_words(check) for check in checks if check.finding == "undecided"]
    open_points += [f"step {s.step} {s.kind}: {s.taken}: {s.why}" for s in steps if s.taken != "whole" or s.why]
    open_points += list(overdue)
    if rejected:
        return "reject", rejected
    if RESPONSE_TO_LOAD not in shown:
        open_points.append(f"not shown: {RESPONSE_TO_LOAD}; only a step that loads the part can show it")
    if open_points:
        return "undecided", open_points
    return "accept", ["every check is inside its acceptance limits"]


def _words(check: Check) -> str:
    at = f" ({check.at})" if check.at else ""
    note = f": {check.note}" if check.note else ""
    return f"{check.step_kind}: {check.name} of {check.subject}{at} is {check.finding}{note}"


def _overdue(instruments: Sequence[InstrumentRecord], started: str) -> list[str]:
    """Instruments whose calibration had run out on the day of the run."""
    day = datetime.fromisoformat(started).date()
    return [
        f"the calibration of {i.name} ({i.serial_number}) ran out on {i.calibration_due}"
        for i in instruments
        if i.calibration_due is not None and date.fromisoformat(i.calibration_due) < day
    ]


def _safe_ends(entries: Iterable[Entry]) -> tuple[SafeEnd, ...]:
    return tuple(SafeEnd(**entry.data) for entry in entries if entry.kind == "safe")
