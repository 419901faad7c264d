"""Promises of a driver whose instrument keeps its errors, in a queue or a register; skipped where none is stated."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NoReturn

import pytest

from rigproof.instruments import Driver, Identity

from .kit import STAYS, Kit, advise
from .told import content


class Errors(Kit):
    """No error is lost, and none keeps a run waiting."""

    def test_errors_are_drained_oldest_first(self) -> None:
        """`Driver.errors`: drain the queue, oldest first; all that a register tells at once."""
        self._expect_stated()
        with self.opened() as driver:
            self._fill()
            found, again = self.well("errors()", driver.errors), self.well("errors()", driver.errors)
        if not self._are_told(found):
            self._lost("errors()", f"gave {found!r} of {self._held()}")
        entries = [entry for queue in self.error_queue.values() for entry in queue]
        if any(entry in text for entry in entries for text in again) or (self.error_register and again == found):
            self._lost("errors()", f"gave {again!r} when it was asked again, and nothing was left")
        for question, replies in self.registers.items():
            self._expect_each_told(question, replies)

    def _expect_each_told(self, question: str, replies: Sequence[str]) -> None:
        """Whatever a register holds is told, and in words of its own."""
        known: dict[tuple[str, ...], str] = {}
        for reply in replies:
            with self.opened() as driver:
                self.peer.say_instead(question.encode("latin-1"), [reply.encode("latin-1")])
                told = tuple(self.well("errors()", driver.errors))
            self.peer.heal()
            if not told or told in known:
                alike = f", as for {known[told]!r}" if told in known else ""
                self._lost("errors()", f"gave {list(told)!r} for {reply!r} in a register{alike}")
            known[told] = reply

    def test_no_error_is_swallowed(self) -> None:
        """An error that a call meets leaves it as InstrumentError, or stays for `errors`, which a run asks."""
        self._expect_stated()
        for call, action in self.actions().items():
            if call == "errors()":
                continue
            with self.opened() as driver:
                self._fill()
                _, error = self.attempt(call, lambda: action(driver), "with an error in the instrument")  # noqa: B023
                if error is None and not self._is_first_told(self.well("errors()", driver.errors)):
                    self._lost(call, f"met {self._held()} and told nobody")
            self.peer.heal()

    def test_no_error_is_swallowed_on_the_way_in(self) -> None:
        """What `look` or `resume` meets, or `open` once it has set something, is raised, or told by `errors`."""
        self._expect_stated()
        for call, counts in (("look()", 0), ("open()", -1), ("resume()", 0)):
            for question, entries in self.faults.items():
                clean = self._asked_before(call, question, counts)
                if clean is None:
                    continue
                driver = self._before(call)
                self.peer.say_instead(
                    question.encode("latin-1"), [*clean, *(each.encode("latin-1") for each in entries)]
                )
                _, error = self.attempt(call, self._way_in(driver, call), f"where {question} told {entries[0]}")
                if error is None and not self._is_first_told(self.well("errors()", driver.errors)):
                    self._lost(call, f"asked {question}, was told {entries[0]}, and told nobody")
                self.peer.heal()
                self.shut(driver)

    def _before(self, call: str) -> Driver:
        """A driver that can be called so: to resume, one that was open and has lost its line."""
        driver: Driver = self.make()
        if call == "resume()":
            self.well("open()", driver.open)
            self.peer.hang_up()
        return driver

    @staticmethod
    def _way_in(driver: Driver, call: str) -> Callable[[], Identity]:
        return {"look()": driver.look, "open()": driver.open, "resume()": driver.resume}[call]

    def _asked_before(self, call: str, question: str, counts: int) -> list[bytes] | None:
        """The clean replies before the one that counts, the first or the last; None where none does.

        A look leaves all as it is. What `open` clears before it sets anything is of who used the instrument before.
        """
        driver = self._before(call)
        mark = len(self.peer.said)
        self.well(call, self._way_in(driver, call))
        self.shut(driver)
        said = self.peer.said[mark:]
        places = [number for number, one in enumerate(said) if one.message == question.encode("latin-1")]
        if not places:
            return None
        settings = [content(message) for message in self.sends]
        if counts and not any(one.message in settings for one in said[: places[-1]]):
            return None
        return [said[number].reply for number in places[:counts]] if counts else []

    def test_close_leaves_errors_where_they_are(self) -> None:
        """`Driver.close` never raises, and nobody asks after it: an error that it took out would be lost."""
        self._expect_stated()
        for question, (entry, *_) in self.faults.items():
            with self.opened() as driver:
                self._fill()
                mark = len(self.peer.said)
                self.shut(driver)
                self.peer.hear_out()
                asked = any(one.message == question.encode("latin-1") for one in self.peer.said[mark:])
                self.peer.heal()
            if asked:
                advise(
                    self.place("close()"),
                    f"asked {question}, was told {entry}, and told nobody",
                    "close() cannot raise, and nobody asks for errors() after it: what it takes out of the instrument "
                    "is lost, and what it leaves there the next run is told before it begins",
                    "leave it out of close(); what must be carried out, and looked at, belongs in go_safe() or open()",
                )

    def test_errors_comes_back_where_a_fault_stays(self) -> None:
        """`Driver.errors` ends, and tells, where the instrument has the same to say however often it is asked."""
        self._expect_stated()
        for question, (entry, *_) in self.faults.items():
            with self.opened() as driver:
                self.fault_stays()
                mark = len(self.peer.said)
                found, error = self.attempt("errors()", driver.errors, f"where {question} told {entry} every time")
                asked = sum(one.message == question.encode("latin-1") for one in self.peer.said[mark:])
                self.peer.heal()
            if asked >= STAYS:
                advise(
                    self.place("errors()"),
                    f"asked {question} {asked} times where the fault {entry} stayed",
                    "a fault that stays must not keep a run, with the load on, from going on to its safe end",
                    "ask for at most as many entries as the instrument can hold, or 64, and give what was told",
                )
            if error is None and not found:
                self._lost("errors()", f"gave {found!r} where {question} told {entry} every time")

    def _expect_stated(self) -> None:
        if not self.faults:
            pytest.skip(
                "neither error_queue nor error_register is stated: errors that the instrument keeps would be lost"
            )

    def _fill(self) -> None:
        for question, entries in self.faults.items():
            self.peer.say_instead(question.encode("latin-1"), [entry.encode("latin-1") for entry in entries])

    def _are_told(self, found: list[str]) -> bool:
        """All entries of a queue in their order; of a register anything, for its bits are put into words."""
        entries = [entry for queue in self.error_queue.values() for entry in queue]
        whole = len(found) == len(entries) or (self.error_register and len(found) > len(entries))
        return bool(whole) and all(entry in text for entry, text in zip(entries, found, strict=False))

    def _is_first_told(self, found: list[str]) -> bool:
        first = [queue[0] for queue in self.error_queue.values()]
        return bool(found) and all(entry in " ".join(found) for entry in first)

    def _held(self) -> str:
        told = [f"{list(queue)!r} in a queue" for queue in self.error_queue.values()]
        return " and ".join([*told, *(f"{told[0]!r} in a register" for told in self.registers.values())])

    def _lost(self, call: str, what: str) -> NoReturn:
        advise(
            self.place(call),
            what,
            "no error is lost: it is the only word of a command that was not carried out",
            "give every entry from errors(), until there are no more or 64 are told; what another call meets it raises "
            "as InstrumentError, or leaves for errors(), which a run asks after each step",
        )
