"""The procedure on a paper rig, step by step as the runner takes them: what it will load, last and tolerate."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from rigproof.documents import Procedure, Rig
from rigproof.errors import raised_at
from rigproof.steps.base import Step
from rigproof.steps.foresee import Foreseen
from rigproof.steps.record import StepRecord

from .paper import PaperRig
from .walk import Walked, walk


@dataclass(frozen=True)
class Rehearsed:
    """One step as it will be taken."""

    number: int
    step: Step
    record: StepRecord
    duration_s: float  # what waits, rates and readings take; instruments answer at once
    checks: tuple[Foreseen, ...]
    trouble: str  # why it cannot be taken or judged whole; "" where it can
    unforeseen: tuple[str, ...] = ()  # channels whose checks rest on what no document says; left out of `checks`

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
    """Every step of the way on paper, with its checks."""
    live = PaperRig(rig, procedure.decision)
    return tuple(_judged(live, rig, walked) for walked in walk(live, procedure))


def _judged(live: PaperRig, rig: Rig, walked: Walked) -> Rehearsed:
    step, record, trouble = walked.step, walked.record, walked.trouble
    checks: tuple[Foreseen, ...] = ()
    try:
        checks = tuple(step.foresee(rig if step.by_packet else live.rig, live.rule, record))
    except Exception as error:  # a plugin's defect is told, and does not hide the other steps
        trouble = trouble or f"cannot be judged: {type(error).__name__}: {error} ({raised_at(error, type(step))})"
    still = live.still()
    unforeseen = tuple(dict.fromkeys(c.check.subject for c in checks if not c.acceptable and c.check.subject in still))
    known = tuple(each for each in checks if each.acceptable or each.check.subject not in unforeseen)
    return Rehearsed(walked.number, step, record, walked.ended_s - walked.begun_s, known, trouble, unforeseen)
