"""Promises of every driver about a line that fails: no reply, half of one, garbage, a lost connection, an old reply."""

from __future__ import annotations

import time

import pytest

from rigproof.instruments import Loads, Reads

from .faults import CUT, HALF, HANG_UP, SILENCE, Fault, doubled, late
from .kit import GRACE_S, Action, Kit, advise, needs, same
from .told import content, shown


class Line(Kit):
    """Whatever becomes of a reply, the driver says so in time, and no number is taken from it."""

    def test_timeout(self) -> None:
        """Silence, or half a reply and silence, costs one timeout and is an error."""
        for call, action in self.actions().items():
            for fault in (SILENCE, HALF):
                began = time.monotonic()
                for case, error, _ in self.spoiled(call, action, fault, before=action):
                    took_s, began = time.monotonic() - began, time.monotonic()
                    self._in_time(call, case, took_s)
                    self._told(call, case, error is not None)
        driver = self.make()
        self.peer.spoil(SILENCE)
        _, error = self.attempt("open()", driver.open, "where the first reply never comes")
        self.shut(driver)
        self._told("open()", "where the first reply never comes", error is not None)

    def _in_time(self, call: str, case: str, took_s: float) -> None:
        allowed_s = 2 * self.limit_s + GRACE_S
        if took_s > allowed_s:
            self.too_late(
                self.place(call),
                f"took {took_s:.1f} s {case}",
                f"a call ends within the connection's timeout, here {self.limit_s:g} s",
                "give self.connection.timeout_s to the line, and try no more than twice",
            )

    def _told(self, call: str, case: str, told: bool) -> None:
        if not told:
            advise(
                self.place(call),
                f"went on as if all were well {case}",
                "every reply is read and held against its form, to the last byte",
                "read it (`ask`, not `write`), and raise InstrumentError(self.connection.name, …) unless the whole "
                "reply is there and is of its form",
            )

    def test_a_cut_reply(self) -> None:
        """Half a block or line is never taken for the whole."""
        for call, action in self.actions().items():
            for case, error, _ in self.spoiled(call, action, CUT):
                self._told(call, case, error is not None)

    def test_garbage(self) -> None:
        """What is no reply of the instrument is an error, never a number."""
        for call, action in self.actions().items():
            for fault in self.garbage():
                for case, error, _ in self.spoiled(call, action, fault):
                    self._told(call, case, error is not None)

    def test_garbage_while_opening(self) -> None:
        """`open` fails as InstrumentError or not at all, and may be called again."""
        for fault in (CUT, *self.garbage()):
            for number in range(64):
                driver = self.make()
                self.peer.spoil(fault, number)
                self.attempt("open()", driver.open, f"where reply {number + 1} {fault.name}")
                spoiled = self.peer.spoiled()
                self.peer.heal()
                self.shut(driver)
                self.well("open()", driver.open)
                self.shut(driver)
                if not spoiled:
                    break

    def test_a_lost_connection_and_the_way_back(self) -> None:
        """A closed connection is an error; `close` and `open` bring the instrument back."""
        for call, action in self.actions().items():
            for case, error, driver in self.spoiled(call, action, HANG_UP):
                self._told(call, case, error is not None)
                self.shut(driver)
                self.well("open()", driver.open)
                self.well(call, lambda: action(driver))  # noqa: B023  called at once

    @property
    def _held_s(self) -> float:
        return 2 * self.limit_s + GRACE_S

    @needs(Reads)
    def test_no_reply_is_taken_for_another(self) -> None:
        """A reply that comes late, or that nobody asked for, is not the next reading."""
        (old, _), (new, _) = self._two_readings()
        for fault in (late(self._held_s), doubled(content(old))):
            for number in range(64):
                if not self._next_is_new(fault, number, content(old), content(new)):
                    break

    def _two_readings(self) -> list[tuple[str | bytes, str]]:
        stated = list(self.readings.items())
        if not stated:
            pytest.skip("readings is not stated: see test_units")
        if len(stated) < 2:
            advise(
                type(self).__name__,
                f"readings states {len(stated)} of two",
                "an old reading can only be told from a new one if they differ",
                'write readings = {"what it sends": "what it means", …} with two that differ; the first is healthy',
            )
        return stated[:2]

    def _next_is_new(self, fault: Fault, number: int, old: bytes, new: bytes) -> bool:
        """Spoil one reply of a reading, change what there is to read, read again; False when the replies are over."""
        with self.opened() as driver:
            before = self.well(self.value_call, lambda: self.value(driver))
            self.peer.spoil(fault, number)
            self.attempt(self.value_call, lambda: self.value(driver), f"where a reply {fault.name}")
            if not self.peer.spoiled():
                self.peer.heal()
                return False
            self.peer.let_late_go()
            self.peer.swapped[old] = new
            after, error = self.attempt(self.value_call, lambda: self.value(driver), f"after a reply that {fault.name}")
            if error is None and after is not None and same(after, before):
                advise(
                    self.place(self.value_call),
                    f"gave {after:g}, the reading from before, after a reply that {fault.name}",
                    "no number is ever taken from the wrong reply",
                    "after a failed exchange use the line no more until it is opened anew; before a question see that "
                    "nothing is waiting to be read",
                )
            self.shut(driver)
            self.well("open()", driver.open)
            now = self.well(self.value_call, lambda: self.value(driver))
            self.peer.swapped.clear()
            if same(now, before):
                advise(
                    self.place(self.value_call),
                    f"still gave {now:g} after close() and open() while the instrument sent {shown(new)}",
                    "a fresh connection knows nothing of an old reply",
                    "forget buffers and kept readings in close()",
                )
        return True

    @needs(Loads)
    def test_a_late_reply_is_no_safe_state(self) -> None:
        """The late reply to another question is not taken for `is_safe`."""
        load, rate = self.load_and_rate()
        actions: dict[str, Action] = {"settled()": lambda driver: driver.settled()}
        if self.valve:
            actions["isolate(True)"] = lambda driver: driver.isolate(True)
        for call, action in actions.items():
            for case, _, driver in self.spoiled(
                call, action, late(self._held_s), lambda driver: driver.rise_to(load, rate)
            ):
                self.peer.let_late_go()
                safe, _ = self.attempt("is_safe()", driver.is_safe, f"after {call} {case}")
                if safe:
                    advise(
                        self.place("is_safe()"),
                        f"said True under load, after {call} {case}",
                        "no state is ever taken from the wrong reply",
                        "after a failed exchange open the line anew before you ask",
                    )
