"""From a journal to a verdict: a pure function of the record, so that it can be made again years later."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from typing import Any

from rigproof.documents import Procedure, Rig, fit, load_procedure, load_rig
from rigproof.errors import JournalError, RigproofError, raised_at
from rigproof.journal import RESUMED, Entry, Journal
from rigproof.plugins import Registry
from rigproof.replaying import REPLAYED_FIRMWARE
from rigproof.simulation import SIMULATED_FIRMWARE
from rigproof.steps.arming import wants_arming
from rigproof.steps.as_found import as_found
from rigproof.steps.base import ALL_STRAIN, ARMED, ASPECTS, BEARS, RESPONSE_TO_LOAD, Step, strain_channels
from rigproof.steps.record import StepRecord
from rigproof.steps.stale import stale
from rigproof.uncertainty import Rule

from . import words
from .identified import of_rig
from .record import (
    Check,
    DocumentRecord,
    Finding,
    InstrumentRecord,
    Outcome,
    PersonRecord,
    PluginRecord,
    RetryRecord,
    SafeEnd,
    StepSummary,
    TwinRecord,
    Verdict,
    WorkRecord,
)
from .sessions import FINISHED, UNASKED, ending, last_session, resumptions, takings, told, uneven_dates
from .watched import only_watched

AGAIN = "it was begun again in a later session, and the run ended in it"


@dataclass(frozen=True)
class StepResult:
    """What a step came to."""

    kind: str
    checks: tuple[Check, ...]
    trouble: str  # why it could not be judged whole; "" where it could
    # Of a defect in the step's code, for the screen alone: a verdict must not change with a line number.
    place: str = ""

    @property
    def finding(self) -> Finding:
        """The worst of its checks; a step without checks, or in trouble, has not shown anything."""
        lacking: tuple[Finding, ...] = ("undecided",) if self.trouble or not self.checks else ()
        return worst((*(check.finding for check in self.checks), *lacking))

    @property
    def unread(self) -> bool:
        """True where a reading that was asked for is missing: nobody knows what is there, so no load may follow."""
        return (
            bool(self.trouble)
            or not self.checks
            or any(check.measured is None and check.finding == "undecided" for check in self.checks)
        )

    def words(self, admitted: Sequence[Finding] = ("accept",)) -> str:
        """What stands against it, in short."""
        against = [
            check for check in self.checks if check.finding not in admitted or (check.measured is None and self.unread)
        ]
        named = [f"{c.name} of {c.subject} is {c.finding}" for c in against[:3]]
        named += [f"{len(against) - 3} more"] if len(against) > 3 else []
        return f"{self.kind}: {'; '.join(named) or self.trouble or 'nothing was checked'}"


class Once:
    """`judge_step` with a memory: what is the same to the last digit need not be judged again.

    A run judges its steps one by one, and its verdict judges all of them from the journal.
    """

    def __init__(self) -> None:
        self._judged: dict[int, tuple[tuple[Step, Rig, Rule, bytes], StepResult]] = {}

    def __call__(self, step: Step, rig: Rig, rule: Rule, record: StepRecord) -> StepResult:
        """What the step came to."""
        of = (step, rig, rule, _digest(record))
        known = self._judged.get(record.step)
        if known is None or known[0] != of:
            known = self._judged[record.step] = of, judge_step(step, rig, rule, record)
        return known[1]


def _digest(record: StepRecord) -> bytes:
    """Of all that was recorded in a step; the readings of many hours must not stay in memory."""
    found = sha256(repr((record.step, record.kind)).encode())
    for entry in record.entries:
        found.update(repr(entry).encode())
    for taking in record.earlier:
        found.update(_digest(taking))
    return found.digest()


def judge_step(step: Step, rig: Rig, rule: Rule, record: StepRecord) -> StepResult:
    """The checks of one step; where the record does not allow them, why."""
    try:
        checks = tuple(step.judge(rig, rule, record))
        old = stale(rig, record)
    except RigproofError as error:
        return StepResult(step.kind, (), f"cannot be judged: {error}")
    except ArithmeticError as error:
        return StepResult(step.kind, (), f"cannot be judged: {error}", raised_at(error, type(step)))
    except Exception as error:  # a record with a part missing, or a plugin's defect: never a finding
        return StepResult(
            step.kind, (), f"cannot be judged: {type(error).__name__}: {error}", raised_at(error, type(step))
        )
    strangers = [thing for thing in checks if type(thing) is not Check]
    if strangers:
        return StepResult(step.kind, (), f"cannot be judged: judge() gave {strangers[0]!r:.80}, no check")
    return StepResult(step.kind, tuple(_hinted(step, check) for check in checks), old)


def _hinted(step: Step, check: Check) -> Check:
    """With what the step kind says of a number that does not accept; why there is no number stands in the note."""
    if check.finding == "accept" or check.measured is None:
        return check
    return check.model_copy(update={"hint": step.hints.get(check.name, "")})


def judge(journal: Journal, registry: Registry, once: Once | None = None) -> Verdict:
    """The verdict of a run from its journal and the installed models; `once` knows what it judged before.

    Raises `JournalError` for a journal that is none of ours, `DocumentError` where the documents in it do not fit.
    """
    try:
        return _judge(journal, registry, once or Once())
    except RigproofError:
        raise  # says itself what is wrong
    except Exception as error:  # a journal comes from a disk: any entry may hold anything
        raise JournalError(
            f"an entry of the journal is not as a run writes it ({type(error).__name__}: {error})"
        ) from None


def _judge(journal: Journal, registry: Registry, once: Once) -> Verdict:
    head = _head(journal)
    rig = load_rig(text=head["rig"]["text"], name=head["rig"]["file"], registry=registry)
    procedure = load_procedure(text=head["procedure"]["text"], name=head["procedure"]["file"], registry=registry)
    fit(rig, procedure)
    steps, checks = _judge_steps(rig, procedure, journal.entries, once)
    due = (*ASPECTS, ARMED) if wants_arming(procedure) else ASPECTS
    shown, not_shown = _shown(steps, rig, due)
    if alone := only_watched(rig, checks):
        not_shown += (f"right readings of {', '.join(alone)} (watched by interlocks alone; no check rests on them)",)
    last = last_session(journal.entries)
    end, resumed = ending(last), resumptions(journal.entries)
    instruments = tuple(dict.fromkeys(InstrumentRecord(**e.data) for e in journal.entries if e.kind == "instrument"))
    safe_ends = tuple(SafeEnd(**entry.data) for entry in last if entry.kind == "safe")
    outcome, why = _outcome(_void(end, rig, safe_ends, instruments, head), steps, checks, not_shown)
    days = [head["utc"], *(each.utc for each in resumed)]
    if outcome == "accept" and (overdue := _overdue(instruments, days)):
        outcome, why = "undecided", overdue
    installation, signatures = _work(procedure, journal.entries)
    if outcome == "accept" and (conceded := words.deviations(installation)):
        why = [f"{why[0]} or stands by a concession", *(f"by concession: {text}" for text in conceded)]
    rule = procedure.decision
    stated = of_rig(rig, _operators(journal.entries))
    return Verdict(
        verdict=outcome,
        why=tuple(why),
        simulated=head["simulated"],
        replayed=head["replayed"],
        twin=TwinRecord(**head["twin"]) if head["twin"] else None,
        rig=DocumentRecord(name=rig.name, sha256=rig.sha256),
        part=f"{rig.part.kind}, load: {rig.part.load}",
        **vars(stated),
        procedure=DocumentRecord(name=procedure.name, sha256=procedure.sha256),
        journal=DocumentRecord(name="journal.jsonl", sha256=journal.sha256),
        started=head["utc"],
        ended=end["utc"] if end else "",
        end=f"{told(end)}{_left_out(steps)}" if end and end["how"] == FINISHED else told(end),
        not_before=end.get("not_before", "") if end else "",
        clock=uneven_dates(journal.entries),
        resumed=resumed,
        decision_rule=rule.rule,
        risk=rule.risk if rule.multiple is None else None,
        multiple=rule.multiple,
        coverage=rule.coverage,
        instruments=instruments,
        no_calibration_stated=tuple(dict.fromkeys(i.name for i in instruments if i.certificate is None)),
        retries=_retries(journal.entries),
        people=tuple(dict.fromkeys(PersonRecord(**e.data) for e in journal.entries if e.kind == "person")),
        plugins=_plugins(journal.entries),
        judged_with=tuple(
            PluginRecord(name=info.name, distribution=info.distribution, version=info.version)
            for info in registry.sources.values()
        ),
        steps=tuple(steps),
        checks=tuple(checks),
        shown=shown,
        not_shown=not_shown,
        safe_end=safe_ends,
        installation=installation,
        signatures=signatures,
        cautions=(*head["cautions"], *(_unasked(last) if outcome != "void" and not _left_out(steps) else ())),
    )


def _judge_steps(
    rig: Rig, procedure: Procedure, entries: Sequence[Entry], once: Once
) -> tuple[list[StepSummary], list[Check]]:
    """Every step in order; what a step measured of the gauges serves the later ones."""
    steps: list[StepSummary] = []
    checks: list[Check] = []
    found_rig = rig
    for number, step in enumerate(procedure.steps, 1):
        taken = takings(number, step.kind, entries)
        summary, found = _judge_one(
            step, rig if step.by_packet else found_rig, procedure, taken.record, taken.whole, once
        )
        later = f"{summary.why}; {AGAIN}".removeprefix("; ") if taken.later else summary.why
        steps.append(summary.model_copy(update={"takings": taken.count, "why": later}))
        checks += found
        found_rig = as_found(found_rig, taken.record)
    return steps, checks


def _left_out(steps: Sequence[StepSummary]) -> str:
    """How many steps a run did not take, or not whole, though it went on to its end."""
    counts = Counter(step.taken for step in steps)
    said = [f"{counts[how]} {how}" for how in ("not taken", "broken off") if counts[how]]
    return f"; of {len(steps)} steps {', '.join(said)}" if said else ""


def _unasked(session: Iterable[Entry]) -> list[str]:
    """Answers of a file that nobody asked for; where a run ended early, or left steps out, they mean nothing."""
    return [str(entry.data["text"]) for entry in session if entry.kind == UNASKED]


def _work(procedure: Procedure, entries: Sequence[Entry]) -> tuple[tuple[WorkRecord, ...], tuple[str, ...]]:
    """What people did and what they signed, in the order of the steps."""
    taken = [(step, takings(number, step.kind, entries).record) for number, step in enumerate(procedure.steps, 1)]
    worked = tuple(line for step, record in taken for line in step.worked(record))
    return worked, tuple(text for step, record in taken for text in step.signed(record))


def _head(journal: Journal) -> dict[str, Any]:
    if not journal.entries or journal.entries[0].kind != "run":
        raise JournalError("the journal does not begin with a run; give the journal.jsonl that `rigproof run` wrote")
    head = {"replayed": False, **journal.entries[0].data}  # journals older than replayed runs do not say
    for how in ("simulated", "replayed"):
        if not isinstance(head[how], bool):
            raise JournalError(f"the journal does not say whether the run was {how}; its first entry was changed")
    return head


def _retries(entries: Iterable[Entry]) -> tuple[RetryRecord, ...]:
    count = Counter(entry.data["instrument"] for entry in entries if entry.kind == "retry")
    return tuple(RetryRecord(instrument=name, count=number) for name, number in count.items())


def _operators(entries: Iterable[Entry]) -> tuple[str, ...]:
    """Who took the run, of every session that names somebody; journals of earlier versions name nobody."""
    named = (entry.data.get("operator") for entry in entries if entry.kind in ("run", RESUMED))
    return tuple(dict.fromkeys(filter(None, named)))


def _plugins(entries: Iterable[Entry]) -> tuple[PluginRecord, ...]:
    """The plugins of every session."""
    named = [plugin for entry in entries if entry.kind in ("run", RESUMED) for plugin in entry.data["plugins"]]
    return tuple(dict.fromkeys(PluginRecord(**plugin) for plugin in named))


def _judge_one(
    step: Step, rig: Rig, procedure: Procedure, record: StepRecord, whole: bool, once: Once
) -> tuple[StepSummary, tuple[Check, ...]]:
    channels = step.reaches(rig)
    begun = [event for event in record.events("step") if event["step"] == record.step]
    if not begun or begun[0]["taken"] == "not taken":
        why = begun[0]["why"] if begun else "the run ended before it"
        return StepSummary(
            step=record.step,
            kind=step.kind,
            taken="not taken",
            why=why,
            finding=None,
            shows=step.shown(),
            channels=channels,
        ), ()
    result = once(step, rig, procedure.decision, record)
    stopped = [event["why"] for event in record.events("phase") if event["what"] == "rise stopped"]
    why = "; ".join(filter(None, (result.trouble, "" if whole else "the run ended in it", *stopped)))
    return StepSummary(
        step=record.step,
        kind=step.kind,
        taken="whole" if whole and not stopped else "broken off",
        why=why,
        finding=result.finding,
        shows=step.shown(),
        channels=channels,
    ), result.checks


def worst(findings: Iterable[Finding]) -> Finding:
    """Reject over undecided over accept."""
    found = set(findings)
    return "reject" if "reject" in found else "undecided" if "undecided" in found else "accept"


def _shown(steps: Sequence[StepSummary], rig: Rig, due: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What accepted steps showed for every strain channel of the rig, and what nobody showed, or not for all."""
    all_channels = strain_channels(rig, (ALL_STRAIN,))
    reached: dict[str, set[str]] = {}
    for step in steps:
        if step.finding == "accept" and step.taken == "whole":
            for aspect in step.shows:
                reached.setdefault(aspect, set()).update(step.channels)
    shown, not_shown = [], []
    for aspect in dict.fromkeys((*due, *reached)):
        lacking = [name for name in all_channels if name not in reached.get(aspect, ())]
        said = f"{aspect} without {rig.part.without}" if aspect == BEARS else aspect
        if aspect in reached and not lacking:
            shown.append(said)
        elif aspect in reached:
            not_shown.append(f"{said} (not for {', '.join(lacking)})")
        else:
            not_shown.append(said)
    return tuple(shown), tuple(not_shown)


def _void(
    end: dict[str, Any] | None,
    rig: Rig,
    safe_ends: Sequence[SafeEnd],
    instruments: Sequence[InstrumentRecord],
    head: dict[str, Any],
) -> list[str]:
    """Why the run cannot be judged; empty when it can."""
    if end is None:
        return ["the run was killed: its journal has no end"]
    reasons = [] if end["how"] == FINISHED else [told(end)]
    for name in rig.sources:
        left = [safe for safe in safe_ends if safe.source == name]
        if not left or not left[-1].confirmed:
            reasons.append(
                f"{name}: not confirmed safe at the end ({left[-1].text if left else 'nothing in the journal'})"
            )
    answered = {instrument.name for instrument in instruments}
    silent = [name for name in rig.instruments if name not in answered]
    reasons += [f"never said which instrument it is: {', '.join(silent)}"] if silent else []
    for how, firmware in (("simulated", SIMULATED_FIRMWARE), ("replayed", REPLAYED_FIRMWARE)):
        if not head[how]:
            reasons += [f"{i.name} is a {how} instrument" for i in instruments if i.firmware == firmware]
    return reasons


def _outcome(
    void: Sequence[str], steps: Sequence[StepSummary], checks: Sequence[Check], not_shown: Sequence[str]
) -> tuple[Outcome, list[str]]:
    """The verdict and its reasons, the worst first."""
    if void:
        return "void", list(void)
    rejected = [words.reason(check) for check in checks if check.finding == "reject"]
    if rejected:
        return "reject", rejected
    open_points = [words.reason(check) for check in checks if check.finding == "undecided"]
    unsettled = {check.step for check in checks if check.finding == "undecided"}
    open_points += [
        f"step {s.step} {s.kind} is {s.finding or 'not shown'}: {s.taken}{f': {s.why}' if s.why else ''}"
        for s in steps
        if (s.finding != "accept" and s.step not in unsettled) or s.taken != "whole"
    ]
    open_points += [
        f"not shown: {aspect}; only a step that loads the part can show it"
        for aspect in not_shown
        if aspect.startswith(RESPONSE_TO_LOAD)
    ]
    return ("undecided", open_points) if open_points else ("accept", ["every check is inside its acceptance limits"])


def _overdue(instruments: Sequence[InstrumentRecord], began: Sequence[str]) -> list[str]:
    """Instruments whose calibration had run out on the day of the run, the last where it was resumed."""
    day = max(datetime.fromisoformat(each).date() for each in began)
    return [
        f"the calibration of {i.name} ({i.serial_number or f'certificate {i.certificate}'}) ran out on "
        f"{i.calibration_due}"
        for i in instruments
        if i.calibration_due is not None and date.fromisoformat(i.calibration_due) < day
    ]
