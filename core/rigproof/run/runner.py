"""One acceptance: open, take each step, and on every way out make the rig safe, with all of it in the journal."""

from __future__ import annotations

import traceback
from collections.abc import Sequence
from pathlib import Path

from rigproof.errors import InstrumentError, JournalError, Stopped, Tripped
from rigproof.instruments import Driver
from rigproof.journal import JournalWriter
from rigproof.steps.as_found import as_found
from rigproof.steps.base import Step
from rigproof.verdict.judging import judge_step
from rigproof.verdict.record import Check, TwinRecord

from .live import LiveRig
from .opening import Reach, open_all
from .plan import Plan
from .progress import Progress
from .safe_end import make_safe
from .signals import StopSignals

JOURNAL = "journal.jsonl"


def run(plan: Plan, reach: Reach, folder: Path, progress: Progress, twin: TwinRecord | None = None) -> Path:
    """Take the rig through the procedure; returns the journal, from which the verdict is judged.

    A trip, a stop or a lost instrument is an ending like any other, told in the journal. Raises only
    `JournalError`, when the record cannot be kept; the rig is safe by then.
    """
    path = folder / JOURNAL
    with StopSignals() as stop, JournalWriter(path, reach.clock) as journal:
        drivers: dict[str, Driver] = {}
        how, why = "broken off", "the run ended without a word"
        try:
            _head(plan, reach, journal, twin)
            _open(plan, reach, drivers, journal, progress)
            live = LiveRig(plan.rig, plan.procedure.decision, drivers, journal, reach.clock, stop, progress)
            _steps(plan, live, journal, progress)
            how, why = "finished", "all steps were gone through"
        except (Tripped, Stopped, InstrumentError, JournalError) as ending:
            how, why = _WORDS[type(ending)], str(ending)
            if isinstance(ending, JournalError):
                raise
        except (Exception, SystemExit) as defect:
            where = traceback.extract_tb(defect.__traceback__)[-1]
            how = "defect"
            why = f"{type(defect).__name__}: {defect} ({Path(where.filename).name}:{where.lineno})"
            journal.write("defect", text=traceback.format_exc())
        finally:
            stop.begin_safe_end()
            if how != "finished":
                progress.alarm(f"{how}: {why}")
            make_safe(plan.rig, drivers, reach.clock, journal, progress)
            for driver in drivers.values():
                driver.close()
            journal.write("end", how=how, why=why, utc=reach.clock.utc().isoformat())
    return path


_WORDS = {
    Tripped: "tripped",
    Stopped: "stopped",
    InstrumentError: "instrument lost",
    JournalError: "journal lost",
}


def _head(plan: Plan, reach: Reach, journal: JournalWriter, twin: TwinRecord | None) -> None:
    """The first entry: all that judging needs beyond the readings."""
    journal.write(
        "run",
        utc=reach.clock.utc().isoformat(),
        simulated=reach.simulated,
        twin=twin.model_dump() if twin else None,
        rig={"file": plan.rig.file, "text": plan.rig.text},
        procedure={"file": plan.procedure.file, "text": plan.procedure.text},
        plugins=[
            {"name": info.name, "distribution": info.distribution, "version": info.version}
            for info in plan.registry.sources.values()
        ],
        cautions=list(plan.cautions()),
    )


def _open(plan: Plan, reach: Reach, drivers: dict[str, Driver], journal: JournalWriter, progress: Progress) -> None:
    progress.say(f"opening {len(plan.rig.instruments)} instruments")
    for record in open_all(plan.rig, reach, drivers):
        journal.write("instrument", **record.model_dump())


def _steps(plan: Plan, live: LiveRig, journal: JournalWriter, progress: Progress) -> None:
    checks: list[Check] = []
    steps = plan.procedure.steps
    for number, step in enumerate(steps, 1):
        progress.step(number, len(steps), step.kind)
        if refusal := _refusal(step, checks):
            progress.say(f"not taken: {refusal}")
            journal.write("step", step=number, step_kind=step.kind, taken="not taken", why=refusal)
            continue
        live.begin_step(number, step.kind)
        step.acquire(live)
        journal.write("step", step=number, step_kind=step.kind, taken="whole")
        rig = plan.rig if step.by_packet else live.rig
        found, _ = judge_step(step, rig, live.rule, live.record())
        progress.checks(found)
        checks += found
        live.rig = as_found(live.rig, live.record())


def _refusal(step: Step, checks: Sequence[Check]) -> str:
    """Why the step may not be taken after the checks so far; "" when it may."""
    against = [check for check in checks if check.finding not in step.admits]
    if not against:
        return ""
    named = "; ".join(f"{c.step_kind}: {c.name} of {c.subject} is {c.finding}" for c in against[:3])
    more = f" and {len(against) - 3} more" if len(against) > 3 else ""
    return f"no load before earlier checks are settled ({named}{more})"
