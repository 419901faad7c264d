"""Between driver and person: all of it in the record, and the rig watched while an answer is awaited."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from rigproof.errors import InstrumentError, Stopped, Tripped
from rigproof.people import NOBODY, Question
from rigproof.run.interview import Interview

ASKED = Question("indicator", "value", "1", "in µε:")


class Listed:
    """Gives its answers, then none; looks whether the run must end before each."""

    name, how = "A. Tester", "test"

    def __init__(self, *answers: str) -> None:
        self.answers = list(answers)
        self.told: list[str] = []

    def answer(self, question: Question, check: Callable[[], None]) -> str:
        check()
        if not self.answers:
            raise InstrumentError(question.instrument, "no answer")
        return self.answers.pop(0)

    def tell(self, text: str) -> None:
        if not self.answers:
            raise BrokenPipeError(32, "Broken pipe")
        self.told.append(text)


class Noted(list[tuple[str, dict[str, Any]]]):
    def __call__(self, kind: str, **fields: Any) -> None:
        self.append((kind, fields))


@pytest.fixture
def noted() -> Noted:
    return Noted()


def test_question_and_answer_are_noted_as_typed(noted: Noted) -> None:
    interview = Interview(Listed(" 12 "), noted, lambda: None)
    assert interview.ask(ASKED) == " 12 "
    entry = {"label": "indicator value 1", "question": "in µε:", "answer": " 12 ", "person": "A. Tester"}
    assert noted == [("asked", entry)]


def test_a_question_without_an_answer_is_noted_too(noted: Noted) -> None:
    with pytest.raises(InstrumentError):
        Interview(Listed(), noted, lambda: None).ask(ASKED)
    assert noted[0][1]["answer"] is None


def test_a_stopped_run_asks_nothing_more(noted: Noted) -> None:
    def stopped() -> None:
        raise Stopped("stopped")

    with pytest.raises(Stopped):
        Interview(Listed("12"), noted, stopped).ask(ASKED)
    assert noted == []


def test_a_trip_while_an_answer_is_awaited_ends_the_question(noted: Noted) -> None:
    def trips() -> None:
        raise Tripped("interlock 'overpressure'")

    interview = Interview(Listed("12"), noted, lambda: None)
    interview.watch = trips
    with pytest.raises(Tripped):
        interview.ask(ASKED)
    assert noted[0][1]["answer"] is None


def test_notices_are_noted_when_they_were_told(noted: Noted) -> None:
    answers = Listed("12")
    interview = Interview(answers, noted, lambda: None)
    interview.tell("weights", "take all off")
    assert answers.told == ["take all off"]
    assert noted == [("told", {"instrument": "weights", "text": "take all off", "person": "A. Tester"})]
    answers.answers.clear()
    with pytest.raises(InstrumentError, match="weights: nobody can be told: Broken pipe"):
        interview.tell("weights", "take all off")
    assert len(noted) == 1


def test_nobody_answers_and_nobody_hears() -> None:
    for talk in (lambda: NOBODY.ask(ASKED), lambda: NOBODY.tell("indicator", "x")):
        with pytest.raises(InstrumentError, match="indicator: nobody is there to be asked; use `rigproof run`"):
            talk()


def test_who_reads_is_told_what_is_being_read(noted: Noted) -> None:
    interview = Interview(Listed("0", ""), noted, lambda: None)
    interview.moment = lambda: "Zero, cycle 0 (no load)"
    interview.ask(ASKED)
    interview.ask(Question("indicator", "keep", "1", "Enter keeps it"))
    assert [fields["question"] for _, fields in noted] == ["Zero, cycle 0 (no load). in µε:", "Enter keeps it"]
