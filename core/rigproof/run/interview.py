"""Between the drivers and the person: every question, answer and notice goes into the record, as typed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from rigproof.errors import InstrumentError
from rigproof.people import Answers, Question


class Interview:
    """A `rigproof.people.Person`. `note` keeps an entry of the record, `check` raises when the run must end.

    `watch` is called with every `check` while an answer is awaited; who has a rig under load puts their own there.
    """

    def __init__(self, answers: Answers, note: Callable[..., object], check: Callable[[], None]) -> None:
        self._answers = answers
        self._note = note
        self._check = check
        self.watch: Callable[[], None] = lambda: None
        self.moment: Callable[[], str] = lambda: ""  # what is being read, in words, for who reads an instrument

    @property
    def name(self) -> str:
        """Of the person."""
        return self._answers.name

    def ask(self, question: Question) -> str:
        """Put the question; what could not be answered stands in the record as null."""
        self._check()
        if question.wants == "value" and question.sound is None and (moment := self.moment()):
            question = replace(question, text=f"{moment}. {question.text}")
        answer: str | None = None
        try:
            answer = self._answers.answer(question, self._meanwhile)
        finally:
            self._note("asked", label=question.label, question=question.text, answer=answer, person=self.name)
        return answer

    def tell(self, instrument: str, text: str) -> None:
        """Say something, and note it."""
        try:
            self._answers.tell(text)
        except OSError as error:
            raise InstrumentError(instrument, f"nobody can be told: {error.strerror or error}") from None
        self._note("told", instrument=instrument, text=text, person=self.name)

    def _meanwhile(self) -> None:
        self._check()
        self.watch()
