"""Promises of a driver whose instrument keeps an error queue; skipped where the author states none."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NoReturn

import pytest

from .kit import Kit, advise


class Errors(Kit):
    """No entry of the queue is lost."""

    def test_errors_are_drained_oldest_first(self) -> None:
        """`Driver.errors`: drain the queue, oldest first."""
        entries = self._fill_when_open()
        with self.opened() as driver:
            self._fill()
            found, again = self.well("errors()", driver.errors), self.well("errors()", driver.errors)
        if len(found) != len(entries) or not all(entry in text for entry, text in zip(entries, found, strict=False)):
            self._lost("errors()", f"gave {found!r} of a queue that held {list(entries)!r}")
        if any(entry in text for entry in entries for text in again):
            self._lost("errors()", f"gave {again!r} when it was asked again, of a queue that was empty")

    def test_no_error_is_swallowed(self) -> None:
        """An entry that a call meets leaves it as InstrumentError, or stays for `errors`."""
        entries = self._fill_when_open()
        for call, action in self.actions().items():
            if call == "errors()":
                continue
            with self.opened() as driver:
                self._fill()
                _, error = self.attempt(call, lambda: action(driver), "with an error in the instrument's queue")  # noqa: B023
                if error is None:
                    told = " ".join(self.well("errors()", driver.errors))
                    if entries[0] not in told:
                        self._lost(call, f"met {entries[0]} in the error queue and told nobody")
            self.peer.heal()

    def _fill_when_open(self) -> Sequence[str]:
        if not self.error_queue:
            pytest.skip("error_queue is not stated: the instrument has none")
        return next(iter(self.error_queue.values()))

    def _fill(self) -> None:
        for question, entries in self.error_queue.items():
            self.peer.say_instead(question.encode("latin-1"), [entry.encode("latin-1") for entry in entries])

    def _lost(self, call: str, what: str) -> NoReturn:
        advise(
            self.place(call),
            what,
            "no entry of the error queue is lost: it is the only word of a command that was not carried out",
            "ask until the queue says that it is empty; give every entry from errors(), or raise it as InstrumentError",
        )
