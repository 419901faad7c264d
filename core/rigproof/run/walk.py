"""The way through a procedure on a paper rig, step by step as the runner takes them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rigproof.documents import Procedure
from rigproof.errors import RigproofError, Suspended
from rigproof.steps.as_found import as_found
from rigproof.steps.base import Step
from rigproof.steps.record import StepRecord

from .paper import PaperRig
from .progress import Progress, Silent

MOST_PAUSES = 20  # of one step: one that never goes on is told, and not walked for ever


@dataclass(frozen=True)
class Walked:
    """One step as it will be taken; times in seconds from the start, instruments answer at once."""

    number: int
    step: Step
    record: StepRecord
    begun_s: float
    ended_s: float
    trouble: str  # why it cannot be taken whole; "" where it can


def walk(live: PaperRig, procedure: Procedure, progress: Progress | None = None) -> Iterator[Walked]:
    """Every step, whatever those before it came to; what a step finds of the rig holds for the later ones."""
    told = progress or Silent()
    for number, step in enumerate(procedure.steps, 1):
        told.step(number, len(procedure.steps), step.kind)
        begun = live.clock.now()
        live.begin_step(number, step.kind)
        live.assume(step.assumes())
        trouble = ""
        try:
            _take(live, number, step)
        except RigproofError as error:
            trouble = f"cannot be taken: {error}"
        except Exception as error:  # a plugin's defect is told, and does not hide the other steps
            trouble = f"cannot be taken: {type(error).__name__}: {error}"
        record = live.record()
        yield Walked(number, step, record, begun, live.clock.now(), trouble)
        live.rig = as_found(live.rig, record)


def _take(live: PaperRig, number: int, step: Step) -> None:
    """Take a step with the pauses that it asks for: time jumps over each, and it is begun again."""
    earlier: list[StepRecord] = []
    while True:
        try:
            return step.acquire(live)
        except Suspended as pause:
            if len(earlier) == MOST_PAUSES:
                raise
            earlier.append(live.record())
            live.clock.wait((pause.not_before - live.clock.utc()).total_seconds())
            live.begin_step(number, step.kind, earlier)
