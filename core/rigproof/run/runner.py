"""One acceptance: open, take each step, and on every way out make the rig safe, with all of it in the journal."""

from __future__ import annotations

import traceback
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from rigproof.errors import InstrumentError, JournalError, RecordLostError, Stopped, Tripped
from rigproof.instruments import Driver
from rigproof.journal import JournalWriter
from rigproof.people import NOBODY, Person
from rigproof.steps.as_found import as_found
from rigproof.steps.base import Step
from rigproof.verdict.judging import StepResult, judge_step
from rigproof.verdict.record import InstrumentRecord, TwinRecord

from .calibration import expect_in_date
from .interview import Interview
from .live import LiveRig
from .opening import Reach, open_all
from .plan import Plan
from .progress import Progress
from .retries import Retries
from .safe_end import make_safe
from .signals import StopSignals

JOURNAL = "journal.jsonl"
NO_RECORD = "no record"


def run(plan: Plan, reach: Reach, folder: Path, progress: Progress, twin: TwinRecord | None = None) -> Path:
    """Take the rig through the procedure; returns the journal, from which the verdict is judged.

    A trip, a stop, a lost instrument or a defect is an ending like any other, told in the journal. Raises `UsageError`
    where the procedure refuses a calibration that has run out, `JournalError` when the record cannot be begun, and
    `RecordLostError` when it cannot be kept: the rig is safe then.
    """
    expect_in_date(plan.rig, plan.procedure, reach.clock.utc().date())
    path = folder / JOURNAL
    with StopSignals() as stop, JournalWriter(path, reach.clock) as journal:
        drivers: dict[str, Driver] = {}
        how, why = "broken off", "the run ended without a word"
        record_kept, confirmed = True, False
        try:
            _head(plan, reach, journal, twin)
            interview = _interview(reach, journal, stop)
            retries = _open(plan, reach, drivers, journal, stop, progress, interview)
            live = LiveRig(plan.rig, plan.procedure.decision, drivers, journal, reach.clock, stop, progress, retries)
            if interview:
                interview.watch = live.watch
            _steps(plan, live, journal, progress)
            how, why = "finished", "to the end of the procedure"
        except (Exception, SystemExit) as ending:  # whatever a plugin does, the rig must be made safe
            how, why = _ending(ending)
            if how == "defect":
                record_kept = _keep(journal, "defect", text=traceback.format_exc())
        finally:
            stop.begin_safe_end()
            confirmed = make_safe(plan.rig, drivers, reach.clock, journal, progress, "safe", _alarm(how, why))
            _let_go(drivers)
            record_kept &= _keep(journal, "end", how=how, why=why, utc=reach.clock.utc().isoformat())
        if how == NO_RECORD or not record_kept:
            left = "the rig was made safe" if confirmed else "the rig is NOT CONFIRMED SAFE"
            journal.abandon()
            raise RecordLostError(f"the run was ended, {left}: {why}")
    return path


def _keep(journal: JournalWriter, kind: str, **fields: str | None) -> bool:
    """Write an entry; false where the record cannot be kept, which must not stand in the way of the safe end."""
    try:
        journal.write(kind, **fields)
    except JournalError:
        return False
    return True


def _ending(ending: BaseException) -> tuple[str, str]:
    """How a run ended, in a word, and why."""
    words = (
        (Tripped, "tripped"),
        (Stopped, "stopped"),
        (InstrumentError, "instrument lost"),
        (JournalError, "no record"),
    )
    for kind, word in words:
        if isinstance(ending, kind):
            return word, str(ending)
    where = traceback.extract_tb(ending.__traceback__)[-1]
    return "defect", f"{type(ending).__name__}: {ending} ({Path(where.filename).name}:{where.lineno})"


def _alarm(how: str, why: str) -> str:
    """What the person is told of an ending; "" of one to the end of the procedure."""
    return "" if how == "finished" else f"{how}: {why}"


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
        twin=twin.model_dump() if twin else None,
        rig={"file": plan.rig.file, "text": plan.rig.text},
        procedure={"file": plan.procedure.file, "text": plan.procedure.text},
        plugins=[
            {"name": info.name, "distribution": info.distribution, "version": info.version}
            for info in plan.registry.sources.values()
        ],
        cautions=list(plan.cautions()),
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
    if not make_safe(plan.rig, drivers, reach.clock, journal, progress, "safe at the start"):
        raise InstrumentError("rig", "not confirmed without load at the start; no step was begun")
    return Retries(plan.rig, drivers, opened, reach.clock, stop)


def _interview(reach: Reach, journal: JournalWriter, stop: StopSignals) -> Interview | None:
    """Who is asked where an instrument is read by hand; the record names them before the first question."""
    if reach.answers is None:
        return None
    journal.write("person", name=reach.answers.name, how=reach.answers.how)

    def note(kind: str, **fields: str | None) -> None:
        if stop.in_safe_end:  # a record that cannot be kept must not stand in its way
            _keep(journal, kind, **fields)
        else:
            journal.write(kind, **fields)

    return Interview(reach.answers, note, stop.check)


def _steps(plan: Plan, live: LiveRig, journal: JournalWriter, progress: Progress) -> None:
    results: list[StepResult] = []
    steps = plan.procedure.steps
    for number, step in enumerate(steps, 1):
        progress.step(number, len(steps), step.kind)
        if refusal := _refusal(step, results):
            progress.say(f"not taken: {refusal}")
            journal.write("step", step=number, step_kind=step.kind, taken="not taken", why=refusal)
            continue
        for text in step.remarks():
            progress.say(text)
        live.begin_step(number, step.kind)
        step.acquire(live)
        journal.write("step", step=number, step_kind=step.kind, taken="whole")
        result = judge_step(step, plan.rig if step.by_packet else live.rig, live.rule, live.record())
        progress.checks(result.checks)
        results.append(result)
        live.rig = as_found(live.rig, live.record())


def _refusal(step: Step, results: Sequence[StepResult]) -> str:
    """Why the step may not be taken after those so far; "" when it may."""
    against = [result for result in results if result.finding not in step.admits or (step.loads and result.unread)]
    if not against:
        return ""
    return f"no load before earlier steps are settled ({'; '.join(result.words(step.admits) for result in against)})"
