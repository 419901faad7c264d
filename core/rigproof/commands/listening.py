"""Choosing how a run is followed: a table at a terminal, lines in a pipe, little, or events for a program."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from rigproof.people import Answers, Question
from rigproof.run.opening import Reach
from rigproof.run.progress import Progress
from rigproof.verdict.record import Verdict

from .event_lines import EventLines
from .lines import Lines
from .outlet import Outlet
from .quiet import Quiet

CANNOT_DRAW = {"", "dumb", "unknown"}  # values of TERM


class Listener(Progress, Protocol):
    """A listener that has the last word."""

    def aside(self) -> AbstractContextManager[None]:
        """Inside the `with` the terminal belongs to a question."""

    def verdict(self, verdict: Verdict, folder: Path, notes: Sequence[str]) -> None:
        """The run was judged; its record is in `folder`, and `notes` say what to do."""

    def close(self) -> None:
        """Nothing more will be told."""


@contextmanager
def listening(quiet: bool, as_json: bool) -> Iterator[Listener]:
    """The listener that fits where standard output goes."""
    listener = _chosen(quiet, as_json)
    try:
        yield listener
    finally:
        listener.close()


def _chosen(quiet: bool, as_json: bool) -> Listener:
    outlet = Outlet(sys.stdout)
    if as_json:
        return EventLines(outlet)
    if quiet:
        return Quiet(outlet)
    if sys.stdout.isatty() and os.environ.get("TERM", "") not in CANNOT_DRAW:
        from .live_table import LiveTable

        return LiveTable(outlet, sys.stdout.fileno())
    return Lines(outlet)


def beside(listener: Listener, reach: Reach) -> Reach:
    """The same reach, with the terminal free while somebody is asked."""
    return reach if reach.answers is None else replace(reach, answers=Aside(reach.answers, listener.aside))


class Aside:
    """A `rigproof.people.Answers` that asks where nothing is drawn."""

    def __init__(self, answers: Answers, aside: Callable[[], AbstractContextManager[None]]) -> None:
        self._answers, self._aside = answers, aside
        self.name, self.how = answers.name, answers.how

    def answer(self, question: Question, check: Callable[[], None]) -> str:
        """As the other would."""
        with self._aside():
            return self._answers.answer(question, check)

    def tell(self, text: str) -> None:
        """As the other would."""
        with self._aside():
            self._answers.tell(text)
