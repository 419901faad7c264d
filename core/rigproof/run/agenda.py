"""What comes when: the procedure taken on paper once, so that who watches is told what comes next and when it ends.

Instruments answer at once on paper: what is told is the time of waits, rates and readings, and no promise.
"""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.clock import Clock

from .paper import PaperRig
from .plan import Plan
from .progress import Silent
from .walk import walk


@dataclass(frozen=True)
class Item:
    """One thing a step does, as the run will say it."""

    step: int
    text: str
    begins_s: float


class Agenda:
    """Follows a run by what it says. Raises nothing: what it does not know it leaves out."""

    def __init__(self, plan: Plan) -> None:
        self._kinds = [step.kind for step in plan.procedure.steps]
        self._items, self._ends_s = _rehearsed(plan)
        self._now, self._step = -1, 0

    def step(self, number: int) -> None:
        """A step begins; nothing of it has been done."""
        before = [place for place, item in enumerate(self._items) if item.step < number]
        self._now = before[-1] if before else -1
        self._step = number

    def follow(self, text: str) -> None:
        """The run says this; what is not on the agenda (a remark, a finding) changes nothing."""
        ahead = range(max(0, self._now), len(self._items))  # the present item may be said again
        said = (self._step, text)
        found = (place for place in ahead if (self._items[place].step, self._items[place].text) == said)
        self._now = next(found, self._now)

    @property
    def next(self) -> str:
        """What follows, in the words the run will use."""
        if self._now + 1 < len(self._items) and self._items[self._now + 1].step == self._step:
            return self._items[self._now + 1].text
        later = self._kinds[self._step :]
        return f"step {self._step + 1}: {later[0]}" if later else "the source to its safe state, then the verdict"

    @property
    def takes_s(self) -> float:
        """How long the present item takes."""
        return self._end_s(self._now) - self._items[self._now].begins_s if self._now >= 0 else 0.0

    def step_left_s(self, left_s: float) -> float:
        """How long the step still takes when the present item takes `left_s`."""
        return self._ends_s[self._step] - self._end_s(self._now) + left_s

    def run_left_s(self, left_s: float) -> float:
        """How long all steps still take when the present item takes `left_s`."""
        return self._ends_s[len(self._kinds)] - self._end_s(self._now) + left_s

    def _end_s(self, place: int) -> float:
        """When an item ends: where the next one begins, or its step ends."""
        if place + 1 < len(self._items) and (place < 0 or self._items[place + 1].step == self._items[place].step):
            return self._items[place + 1].begins_s
        return self._ends_s[self._items[place].step] if place >= 0 else 0.0


class _Noting(Silent):
    """Listens to the paper rig."""

    def __init__(self) -> None:
        self.items: list[Item] = []
        self.clock: Clock | None = None
        self._number = 0

    def step(self, number: int, of: int, kind: str) -> None:  # noqa: ARG002  the number is enough
        self._number = number

    def say(self, text: str) -> None:
        self._note(text)

    def waiting(self, text: str, left_s: float, now_s: float) -> None:  # noqa: ARG002  the clock says it all
        self._note(text)

    def _note(self, text: str) -> None:
        assert self.clock is not None, "set before the first step"
        item = Item(self._number, text, self.clock.now())
        if not self.items or self.items[-1] != item:  # said, and then waited for
            self.items.append(item)


def _rehearsed(plan: Plan) -> tuple[list[Item], dict[int, float]]:
    """Every item, and when each step ends; where a step cannot be taken on paper, as far as it goes."""
    noting = _Noting()
    live = PaperRig(plan.rig, plan.procedure.decision, noting)
    noting.clock = live.clock
    ends = {walked.number: walked.ended_s for walked in walk(live, plan.procedure, noting)}
    return noting.items, {0: 0.0, **ends}
