"""One acceptance: open, take each step, and on every way out make the rig safe, with all of it in the journal."""

from __future__ import annotations

import traceback
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from rigproof.errors import InstrumentError, JournalError, RecordLostError, Stopped, Suspended, Tripped, Unanswered
from rigproof.instruments import Driver
from rigproof.journal import JournalWriter
from rigproof.people import NOBODY, Person
from rigproof.steps.as_found import as_found
from rigproof.steps.base import Step
from rigproof.steps.record import StepRecord
from rigproof.verdict.judging import Once, StepResult
from rigproof.verdict.record import InstrumentRecord, TwinRecord
from rigproof.verdict.sessions import FINISHED, NEVER, SUSPENDED, UNASKED, told

from .calibration import expect_in_date
from .deadline import Overdue, handled
from .interview import Interview
from .live import LiveRig
from .opening import Reach, open_all
from .plan import Plan
from .progress import Progress
from .resuming import Earlier, rearm
from .retries import Retries
from .safe_end import make_safe
from .signals import StopSignals

JOURNAL = "journal.jsonl"
NO_RECORD = "no record"
DEFECT = "defect"


def run(
    plan: Plan,
    reach: Reach,
    folder: Path,
    progress: Progress,
    twin: TwinRecord | None = None,
    earlier: Earlier | None = None,
    once: Once | None = None,
) -> Path:
    """Take the rig through the procedure; returns the journal, from which the verdict is judged.

    `once` keeps what the steps came to. With `earlier` the run goes on from there: steps that were taken whole are not
    taken again.

    A trip, a stop, a lost instrument or a defect is an ending like any other, told in the journal. Raises `UsageError`
    where the procedure refuses a calibration that has run out, `JournalError` when the record cannot be begun, and
    `RecordLostError` when it cannot be kept: the rig is safe then.
    """
    expect_in_date(plan.rig, plan.procedure, reach.clock.utc().date())
    if earlier:
        earlier.expect_due(reach.clock.utc())
    path = folder / JOURNAL
    with StopSignals() as stop, handled(), JournalWriter(path, reach.clock, resume=earlier is not None) as journal:
        drivers: dict[str, Driver] = {}
        end = {"how": "broken off", "why": "the run ended without a word"}
        confirmed, defect = False, ""
        trip: Tripped | None = None
        try:
            _session(plan, reach, drivers, journal, stop, progress, twin, earlier, once or Once())
            end = {"how": FINISHED, "why": "to the end of the procedure"}
        except (Exception, SystemExit, Overdue) as ending:  # whatever a plugin does, the rig must be made safe
            end = _ending(ending)
            trip = ending if isinstance(ending, Tripped) else None
            defect = traceback.format_exc() if end["how"] == DEFECT else ""
        finally:
            stop.begin_safe_end()
            alarm = "" if end["how"] == FINISHED else told(end)
            confirmed = make_safe(plan.rig, drivers, reach.clock, journal, progress, "safe", trip, alarm).confirmed
            end["why"] += _reaction(trip)
            _let_go(drivers)
            record_kept = _end(journal, reach, end, defect)
        if end["how"] == NO_RECORD or not record_kept:
            left = "the rig was made safe" if confirmed else "the rig is NOT CONFIRMED SAFE"
            journal.abandon()
            raise RecordLostError(
                f"the run was ended, {left}: {end['why']}. With room for it `--resume` goes on with what was recorded"
            )
    return path


def _session(
    plan: Plan,
    reach: Reach,
    drivers: dict[str, Driver],
    journal: JournalWriter,
    stop: StopSignals,
    progress: Progress,
    twin: TwinRecord | None,
    earlier: Earlier | None,
    once: Once,
) -> None:
    """From the first entry to the last step."""
    if earlier:
        earlier.begin(plan, reach.clock.utc(), journal, progress, reach.operator)
    else:
        _head(plan, reach, journal, twin)
    interview = _interview(plan, reach, journal, stop)
    retries = _open(plan, reach, drivers, journal, stop, progress, interview)
    live = LiveRig(
        *(plan.rig, plan.procedure.decision, drivers, journal, reach.clock, stop, progress, retries),
        person=interview or NOBODY,
        time_is_free=reach.simulated,
        works=earlier.works if earlier else (),
    )
    if interview:
        interview.watch, interview.moment = live.watch, lambda: live.moment
    _steps(plan, live, journal, progress, earlier, once)


def _reaction(trip: Tripped | None) -> str:
    """How fast the rig answered to a trip; "" where nothing tripped, or nobody could tell."""
    if trip is None or trip.took_s is None or trip.began_s is None or trip.read_s is None:
        return ""
    reading_ms, took_ms = 1000 * (trip.read_s - trip.began_s), 1000 * trip.took_s
    return f"; the reading took {reading_ms:.0f} ms, the safe command was out {took_ms:.0f} ms later"


def _keep(journal: JournalWriter, kind: str, **fields: str | None) -> bool:
    """Write an entry; false where the record cannot be kept, which must not stand in the way of the safe end."""
    try:
        journal.write(kind, **fields)
    except JournalError:
        return False
    return True


def _end(journal: JournalWriter, reach: Reach, end: dict[str, str], defect: str) -> bool:
    """The last entries; false where the record cannot be kept. No disk stands before the safe command."""
    kept = not defect or _keep(journal, DEFECT, text=defect)
    for text in reach.unasked() if end["how"] == FINISHED else ():
        kept &= _keep(journal, UNASKED, text=text)
    return kept & _keep(journal, "end", **end, utc=reach.clock.utc().isoformat())


def _ending(ending: BaseException) -> dict[str, str]:
    """How a run ended, in a word, and why; of a suspended one also until when."""
    until = {"not_before": ending.not_before.isoformat()} if isinstance(ending, Suspended) else {}
    words = (
        (Tripped, "tripped"),
        (Stopped, "stopped"),
        (Suspended, SUSPENDED),
        (Unanswered, "no answer"),
        ((InstrumentError, Overdue), "instrument lost"),
        (JournalError, NO_RECORD),
    )
    for kind, word in words:
        if isinstance(ending, kind):
            return {"how": word, "why": str(ending), **until}
    where = traceback.extract_tb(ending.__traceback__)[-1]
    told = f"{type(ending).__name__}: {ending} ({Path(where.filename).name}:{where.lineno})"
    return {"how": DEFECT, "why": told}


def _let_go(drivers: Mapping[str, Driver]) -> None:
    """Close the instruments; never raises."""
    for driver in drivers.values():
        with suppress(Exception, SystemExit):
            driver.close()


def _head(plan: Plan, reach: Reach, journal: JournalWriter, twin: TwinRecord | None) -> None:
    """The first entry: all that judging needs beyond the readings."""
    journal.write(
        "run",
        utc=reach.clock.utc().isoformat(),
        simulated=reach.simulated,
        replayed=reach.replayed,
        operator=reach.operator,
        twin=twin.model_dump() if twin else None,
        rig={"file": plan.rig.file, "text": plan.rig.text},
        procedure={"file": plan.procedure.file, "text": plan.procedure.text},
        plugins=[
            {"name": info.name, "distribution": info.distribution, "version": info.version}
            for info in plan.registry.sources.values()
        ],
        cautions=list(plan.cautions),
    )


def _open(
    plan: Plan,
    reach: Reach,
    drivers: dict[str, Driver],
    journal: JournalWriter,
    stop: StopSignals,
    progress: Progress,
    person: Person | None,
) -> Retries:
    """Open every instrument, and begin from a known state: every source safe, no load on the part.

    Gives the tries that rig.yaml allows from here on, with the instruments that were opened.
    """
    progress.say(f"opening {len(plan.rig.instruments)} instruments")
    opened: dict[str, InstrumentRecord] = {}
    for record in open_all(plan.rig, reach, drivers, person or NOBODY):
        opened[record.name] = record
        journal.write("instrument", **record.model_dump())
        stop.check()
    left = make_safe(plan.rig, drivers, reach.clock, journal, progress, "safe at the start")
    if not left.confirmed:
        raise InstrumentError("rig", f"not confirmed without load at the start ({left.why}); no step was begun")
    return Retries(plan.rig, drivers, opened, reach.clock, stop)


def _interview(plan: Plan, reach: Reach, journal: JournalWriter, stop: StopSignals) -> Interview | None:
    """Who is asked by instruments and steps that need a person; the record names them before the first question."""
    if reach.answers is None or not plan.asking():
        return None
    journal.write("person", name=reach.answers.name, how=reach.answers.how)

    def note(kind: str, **fields: str | None) -> None:
        if stop.in_safe_end:  # a record that cannot be kept must not stand in its way
            _keep(journal, kind, **fields)
        else:
            journal.write(kind, **fields)

    return Interview(reach.answers, note, stop.check)


def _steps(
    plan: Plan, live: LiveRig, journal: JournalWriter, progress: Progress, earlier: Earlier | None, once: Once
) -> None:
    results: list[StepResult] = []
    steps = plan.procedure.steps
    zeroed = earlier is None
    for number, step in enumerate(steps, 1):
        progress.step(number, len(steps), step.kind)
        before = earlier.takings(number, step.kind) if earlier else NEVER
        if before.whole and not (step.per_session and _loads_again(steps[number:], number + 1, earlier)):
            progress.say("taken whole before the run was resumed: judged from the record")
            results.append(_judge(plan, live, progress, step, before.record, once))
            continue
        if refusal := _refusal(step, results):
            progress.say(f"not taken: {refusal}")
            journal.write("step", step=number, step_kind=step.kind, taken="not taken", why=refusal)
            continue
        for text in step.remarks():
            progress.say(text)
        if earlier and (step.loads or step.per_session) and not zeroed:
            rearm(live, earlier, journal, progress)
            zeroed = True
        live.begin_step(number, step.kind, before.broken_off)
        step.acquire(live)
        live.expect_no_errors()
        record = live.record()
        journal.write("step", step=number, step_kind=step.kind, taken="whole")
        results.append(_judge(plan, live, progress, step, record, once))


def _loads_again(steps: Sequence[Step], first: int, earlier: Earlier | None) -> bool:
    """Whether one of `steps`, which count from `first`, still has to load the part."""
    numbered = enumerate(steps, first)
    return any(step.loads and not (earlier and earlier.takings(n, step.kind).whole) for n, step in numbered)


def _judge(plan: Plan, live: LiveRig, progress: Progress, step: Step, record: StepRecord, once: Once) -> StepResult:
    """What a step came to; what it found of the rig holds for the later ones."""
    result = once(step, plan.rig if step.by_packet else live.rig, live.rule, record)
    if result.place:
        progress.say(f"{step.kind} {result.trouble} ({result.place})")
    progress.checks(result.checks)
    live.rig = as_found(live.rig, record)
    return result


def _refusal(step: Step, results: Sequence[StepResult]) -> str:
    """Why the step may not be taken after those so far; "" when it may."""
    against = [result for result in results if result.finding not in step.admits or (step.loads and result.unread)]
    if not against:
        return ""
    what = "no load" if step.loads else "not"
    return f"{what} before earlier steps are settled ({'; '.join(result.words(step.admits) for result in against)})"
