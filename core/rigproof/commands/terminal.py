"""The person at the terminal: questions in plain lines of 80 columns, answers typed and ended with Enter."""

from __future__ import annotations

import os
import select
import termios
import textwrap
import time
from collections.abc import Callable
from contextlib import suppress
from typing import TextIO

from rigproof.errors import InstrumentError, UsageError
from rigproof.people import Question, checked_name

from .lines import duration

COLUMNS = 78
LOOK_EVERY_S = 0.5  # how often a wait for an answer looks whether the run must end
TELL_AT_S = (3600, 1800, 600, 300, 120, 60, 30, 10, 0)  # what is left of the least time of a work, when it is told


class Terminal:
    """A `rigproof.people.Answers`. `keyboard` is the file descriptor of a terminal.

    What was typed before a question stood on the screen is no answer to it: a key pressed twice must not keep a value
    that nobody has looked at.
    """

    how = "terminal"

    def __init__(self, keyboard: int, screen: TextIO, name: str = "") -> None:
        self._keyboard = keyboard
        self._screen = screen
        self._typed = b""
        self.name = name or self._ask_name()

    def answer(self, question: Question, check: Callable[[], None]) -> str:
        """Show the question, wait for a line."""
        try:
            self._forget_what_was_typed()
            self._show(f"\n{_wrapped(question.text)}\n> ")
            line = self._line(self._counting(question, check), question.patience_s)
        except OSError as error:
            raise InstrumentError(question.instrument, f"the terminal is gone: {error.strerror or error}") from None
        if line is None:
            raise InstrumentError(question.instrument, "no answer: the input ended, or nobody answered in time")
        return line

    def _counting(self, question: Question, check: Callable[[], None]) -> Callable[[], None]:
        """`check`, which also tells from time to time what is left of the least time that the work takes."""
        if question.takes_s <= 0:
            return check
        ends = time.monotonic() + question.takes_s
        to_tell = [left for left in TELL_AT_S if left < question.takes_s]

        def counting() -> None:
            check()
            left = ends - time.monotonic()
            if to_tell and left <= to_tell[0]:
                while to_tell and left <= to_tell[0]:
                    told = to_tell.pop(0)
                said = (
                    f"{duration(told)} left"
                    if told
                    else f"{duration(question.takes_s)} over: the least time has gone by"
                )
                self._show(f"\n{question.item}: {said}\n> ")

        return counting

    def tell(self, text: str) -> None:
        """A notice."""
        self._show(f"\n{_wrapped(text)}\n")

    def _ask_name(self) -> str:
        self._show("\nWho does the work and reads the instruments? Your name, for the record:\n> ")
        while (line := self._line(lambda: None, None)) is not None:
            try:
                return checked_name(line)
            except UsageError as error:
                self._show(f"{_wrapped(str(error))}\n> ")
        raise UsageError("nobody gave a name: the input ended; use --person NAME")

    def _show(self, text: str) -> None:
        self._screen.write(text)
        self._screen.flush()

    def _forget_what_was_typed(self) -> None:
        self._typed = b""
        with suppress(termios.error):
            termios.tcflush(self._keyboard, termios.TCIFLUSH)

    def _line(self, check: Callable[[], None], patience_s: float | None) -> str | None:
        """One line as typed, without its end; None at the end of the input, and when patience is at an end."""
        until = None if patience_s is None else time.monotonic() + patience_s
        while b"\n" not in self._typed:
            check()
            if until is not None and time.monotonic() > until:
                return None
            if not select.select([self._keyboard], [], [], LOOK_EVERY_S)[0]:
                continue
            data = os.read(self._keyboard, 4096)
            if not data:
                return None
            self._typed += data
        check()  # Ctrl-C and Enter: the run ends, whatever the line says
        line, _, self._typed = self._typed.partition(b"\n")
        return line.decode("utf-8", "replace").rstrip("\r")


def _wrapped(text: str) -> str:
    paragraphs = text.split("\n")
    return "\n".join(
        textwrap.fill(part, COLUMNS, break_long_words=False, break_on_hyphens=False) for part in paragraphs
    )
