"""One guided step at a bench where nothing but a person works, whose answers and pace a test writes down."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from rigproof.clock import JumpingClock
from rigproof.errors import InstrumentError
from rigproof.people import Question
from rigproof.run.live import LiveRig
from rigproof.run.paper import PaperJournal
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.signals import StopSignals
from rigproof.steps.base import Step
from rigproof.steps.record import StepRecord
from rigproof.verdict.record import Check

MORNING = datetime(2026, 11, 25, 8, tzinfo=UTC)


class Paced:
    """A `rigproof.people.Person`: each answer comes after so many seconds; "…" stands for whatever is asked first."""

    name = "A. Tester"

    def __init__(self, clock: JumpingClock, answers: Sequence[str | tuple[float, str]]) -> None:
        self._clock = clock
        self.answers = [(0.0, each) if isinstance(each, str) else each for each in answers]
        self.asked: list[Question] = []

    def ask(self, question: Question) -> str:
        self.asked.append(question)
        if not self.answers:
            raise InstrumentError(question.instrument, "no answer")
        seconds, text = self.answers.pop(0)
        self._clock.wait(seconds)
        return text

    def tell(self, instrument: str, text: str) -> None:
        raise AssertionError


class Bench:
    """A live rig without instruments."""

    def __init__(self, plan: Plan, *answers: str | tuple[float, str], time_is_free: bool = False) -> None:
        self.plan = plan
        self.clock = JumpingClock(MORNING)
        self.person = Paced(self.clock, answers)
        self.live = LiveRig(
            *(plan.rig, plan.procedure.decision, {}, PaperJournal(self.clock), self.clock, StopSignals(), Silent()),
            person=self.person,
            time_is_free=time_is_free,
        )

    def take(self, number: int = 1, earlier: Sequence[StepRecord] = ()) -> Step:
        """Take the step of that number."""
        step = self.plan.procedure.steps[number - 1]
        self.live.begin_step(number, step.kind, earlier)
        step.acquire(self.live)
        return step

    def checks(self, number: int = 1, earlier: Sequence[StepRecord] = ()) -> dict[str, Check]:
        """Take it, and its checks by name and place."""
        step = self.take(number, earlier)
        found = step.judge(self.plan.rig, self.live.rule, self.live.record())
        return {f"{check.name} {check.at}".strip(): check for check in found}
