"""A person at the rig: how a driver asks one, and who may answer.

A driver that cannot work without a person says `asks_a_person` and finds one in its connection; a step that guides a
person's work says so too, and asks through `LiveRig.ask`. Who answers (somebody
at the terminal, a file of answers, the person of a simulated rig) is chosen by the command; `run.interview` stands
between the two and puts every question and every answer into the record.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, Protocol

from rigproof.errors import InstrumentError, UsageError

OfInstrument = Literal["serial number", "value", "keep", "put on", "take off", "empty", "rotate"]
OfStep = Literal["begin", "done", "value", "keep", "name", "sign", "wait"]
Wants = OfInstrument | OfStep
LONGEST_NAME = 80


@dataclass(frozen=True)
class Question:
    """One thing asked of a person on behalf of an instrument, or of a step that guides work."""

    instrument: str  # its name in the rig; of a step what it calls its work
    wants: Wants  # keep: enter keeps what was typed before
    item: str  # which input or which weight; "" where there is one only
    text: str  # what the person reads, whole sentences
    otherwise: str | None = None  # the answer of a script that says nothing here; None: it must say something
    patience_s: float | None = None  # how long an answer is waited for; None: as long as it takes
    sound: str | None = None  # of a step: the answer where all is well, for people on paper and in simulations
    amiss: str = ""  # why it is asked again, as a clause; `text` has it too
    takes_s: float = 0.0  # of a step: how long the work takes that the answer ends, at least

    @property
    def label(self) -> str:
        """What a line of a script begins with to answer it, such as `indicator value 1`."""
        return " ".join(filter(None, (self.instrument, self.wants, self.item)))


class Person(Protocol):
    """Whom a driver asks."""

    @property
    def name(self) -> str:
        """As it stands in the record."""

    def ask(self, question: Question) -> str:
        """The answer as typed, without the end of the line. Raises `InstrumentError` when none can be had."""

    def tell(self, instrument: str, text: str) -> None:
        """Say something that waits for no answer. Raises `InstrumentError` when nobody can be told."""


class Answers(Protocol):
    """Where answers come from."""

    @property
    def name(self) -> str:
        """Of the person."""

    @property
    def how(self) -> str:
        """Where the person is asked: `terminal`, `file answers.txt`, `simulated`."""

    def answer(self, question: Question, check: Callable[[], None]) -> str:
        """Put one question; `check` is called while waiting, at least once a second, and raises when the run must end.

        Raises `InstrumentError` when no answer can be had.
        """

    def tell(self, text: str) -> None:
        """Say something; raises `OSError` when nobody can be told."""


def checked_name(written: str) -> str:
    """A person's name for the record. Raises `UsageError`."""
    name = " ".join(written.split())
    if not name or len(name) > LONGEST_NAME or not name.isprintable() or not any(map(str.isalpha, name)):
        raise UsageError(
            f"{written!r} is no name of a person; give first and last name, at most {LONGEST_NAME} letters"
        )
    return name


class Nobody:
    """The person of a connection that was made without one."""

    name = ""

    def ask(self, question: Question) -> str:
        """Never an answer."""
        raise _nobody(question.instrument)

    def tell(self, instrument: str, text: str) -> None:  # noqa: ARG002  nobody hears it
        """Nobody hears it."""
        raise _nobody(instrument)


def _nobody(instrument: str) -> InstrumentError:
    return InstrumentError(
        instrument, "nobody is there to be asked; use `rigproof run` in a terminal or with --answers"
    )


NOBODY = Nobody()
