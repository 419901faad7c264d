"""One acceptance from plan to verdict."""

from __future__ import annotations

import os
from pathlib import Path

from rigproof.errors import RecordLostError
from rigproof.journal import read_journal
from rigproof.verdict.judging import Once, judge
from rigproof.verdict.record import TwinRecord, Verdict, to_bytes
from rigproof.verdict.sessions import FINISHED

from .opening import Reach
from .plan import Plan
from .progress import Progress
from .resuming import Earlier
from .runner import run
from .signals import StopSignals

VERDICT = "verdict.json"


def run_and_judge(
    plan: Plan,
    reach: Reach,
    folder: Path,
    progress: Progress,
    twin: TwinRecord | None = None,
    earlier: Earlier | None = None,
) -> Verdict:
    """The journal, then the verdict from the journal, written beside it.

    A stop that comes too late to end the run is held back until the verdict is written, and said.
    """
    progress.begun(plan, reach, folder)
    with StopSignals() as stop:
        once = Once()
        journal = run(plan, reach, folder, progress, twin, earlier, once)
        verdict = judge(read_journal(journal), plan.registry, once)
        try:
            keep(verdict, folder)
        except OSError as error:
            raise RecordLostError(
                f"{folder / VERDICT}: cannot be written ({error.strerror}); the journal is whole: make room, then "
                f"`rigproof judge {journal} --out {folder}` makes the verdict"
            ) from None
        if stop.by and verdict.end.startswith(FINISHED):
            progress.say(f"the stop by {stop.by} came after the last step: the run is whole, and is judged as it is")
    return verdict


def keep(verdict: Verdict, folder: Path) -> None:
    """Write the verdict into a folder: whole, or the old one stays. Raises `OSError`."""
    half = folder / f"{VERDICT}.new"
    try:
        with half.open("wb") as file:
            file.write(to_bytes(verdict))
            file.flush()
            os.fsync(file.fileno())
        half.replace(folder / VERDICT)
    except OSError:
        half.unlink(missing_ok=True)
        raise
