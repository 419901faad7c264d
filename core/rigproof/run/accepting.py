"""One acceptance from plan to verdict."""

from __future__ import annotations

from pathlib import Path

from rigproof.journal import read_journal
from rigproof.verdict.judging import judge
from rigproof.verdict.record import TwinRecord, Verdict, to_bytes

from .opening import Reach
from .plan import Plan
from .progress import Progress
from .resuming import Earlier
from .runner import run


def run_and_judge(
    plan: Plan,
    reach: Reach,
    folder: Path,
    progress: Progress,
    twin: TwinRecord | None = None,
    earlier: Earlier | None = None,
) -> Verdict:
    """The journal, then the verdict from the journal, written beside it."""
    progress.begun(plan, reach, folder)
    journal = run(plan, reach, folder, progress, twin, earlier)
    verdict = judge(read_journal(journal), plan.registry)
    (folder / "verdict.json").write_bytes(to_bytes(verdict))
    return verdict
