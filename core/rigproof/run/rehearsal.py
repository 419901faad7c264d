"""The procedure on a paper rig, step by step as the runner takes them: what it will load, last and tolerate."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from rigproof.documents import Procedure, Rig
from rigproof.errors import RigproofError, Suspended
from rigproof.steps.as_found import as_found
from rigproof.steps.base import Step
from rigproof.steps.foresee import Foreseen
from rigproof.steps.record import StepRecord

from .paper import PaperRig

MOST_PAUSES = 20  # of one step: one that never goes on is told, and not rehearsed for ever


@dataclass(frozen=True)
class Rehearsed:
    """One step as it will be taken."""

    number: int
    step: Step
    record: StepRecord
    duration_s: float  # what waits, rates and readings take; instruments answer at once
    checks: tuple[Foreseen, ...]
    trouble: str  # why it cannot be taken or judged whole; "" where it can

    @property
    def targets(self) -> tuple[tuple[str, float], ...]:
        """Every source and load it is told to reach, base unit; without 0."""
        found = dict.fromkeys((event["source"], event["target"]) for event in self._commands("target"))
        return tuple(pair for pair in found if pair[1])

    @property
    def rate_per_s(self) -> float | None:
        """The fastest change of load; None where nothing is loaded."""
        return max((event["rate_per_s"] for event in self._commands("target")), default=None)

    @property
    def shut_in_s(self) -> float:
        """How long the part is shut off from its source."""
        turns = [(e.t, e.data["isolate"]) for e in self.record.entries if e.kind == "command" and "isolate" in e.data]
        return sum(later - begun for (begun, shut), (later, _) in pairwise(turns) if shut)

    @property
    def stopped(self) -> str:
        """Why the step itself would end its rise; "" where it goes to its end."""
        return next((e["why"] for e in self.record.events("phase") if e["what"] == "rise stopped"), "")

    def _commands(self, key: str) -> list[dict[str, Any]]:
        return [event for event in self.record.events("command") if key in event]


def rehearse(rig: Rig, procedure: Procedure) -> tuple[Rehearsed, ...]:
    """Every step, whatever those before it came to; what a step finds of the rig holds for the later ones."""
    live = PaperRig(rig, procedure.decision)
    return tuple(_rehearse(live, rig, number, step) for number, step in enumerate(procedure.steps, 1))


def _rehearse(live: PaperRig, rig: Rig, number: int, step: Step) -> Rehearsed:
    begun = live.clock.now()
    live.begin_step(number, step.kind)
    live.assume(step.assumes())
    trouble = ""
    checks: tuple[Foreseen, ...] = ()
    try:
        take(live, number, step)
    except RigproofError as error:
        trouble = f"cannot be taken: {error}"
    except Exception as error:  # a plugin's defect is told, and does not hide the other steps
        trouble = f"cannot be taken: {type(error).__name__}: {error}"
    record = live.record()
    try:
        checks = tuple(step.foresee(rig if step.by_packet else live.rig, live.rule, record))
    except Exception as error:
        trouble = trouble or f"cannot be judged: {type(error).__name__}: {error}"
    live.rig = as_found(live.rig, record)
    return Rehearsed(number, step, record, live.clock.now() - begun, checks, trouble)


def take(live: PaperRig, number: int, step: Step) -> None:
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
