"""Promises about time: nothing sleeps, and an instrument that is not ready is waited for, but not for ever."""

from __future__ import annotations

from functools import partial
from itertools import repeat
from typing import Any

import pytest

from rigproof.instruments import Reads, TestsInsulation

from .asking import Asking
from .kit import advise, by_hand, needs, same
from .told import content, shown

_SOME = 3  # times that it is not ready before it is
_TIMES = 3  # twice it asks as often before it gives up, and once a stalled machine may have ended it
_AT_ONCE = 20  # questions without a pause: more than a driver that counts its tries would ask
_ALIKE = 0.02  # share of these counts by which two that are alike may differ
_BUSY_LOOP = "end the loop by a deadline: self.connection.clock.now(), and self.connection.clock.wait(0.1) in between"


class Waiting(Asking):
    """A driver waits on `connection.clock` alone, and for a time that it has set."""

    @by_hand
    def test_it_never_sleeps(self) -> None:
        """Time passes on `connection.clock` alone: in every call, at every input, and while it is not ready."""
        with self.opened() as driver:
            for call in self.calls():
                self.whatever_comes(lambda: call(driver))  # noqa: B023  called at once
        for reply in self.busy:
            with self.opened() as driver:
                self._not_ready(driver, content(reply))
                self.whatever_comes(lambda: self.value(driver))
                self.peer.heal()
        if self.sleeps:
            advise(
                self.place("…"),
                f"slept: {'; '.join(dict.fromkeys(self.sleeps))}",
                "time passes on the injected clock only: a sleep makes a simulated hour a real one",
                "write self.connection.clock.wait(seconds)",
            )

    @needs(Reads | TestsInsulation)
    def test_what_is_not_ready_is_waited_for_and_not_for_ever(self) -> None:
        """What it sends while it is not ready is never a number; a reading that never comes is an error."""
        if not self.busy or not self.readings:
            pytest.skip(
                "busy is not stated: a driver that waits for ever for an instrument that is not ready would pass"
            )
        for reply in map(content, self.busy):
            with self.opened() as driver:
                before = self.well(self.value_call, lambda: self.value(driver))
                self._not_ready(driver, reply, _SOME)
                self._expect(before, shown(reply), f"that came {_SOME} times before the reading", driver, needed=False)
            self._not_for_ever(reply)

    def _not_for_ever(self, reply: bytes) -> None:
        """A deadline comes after as many questions again; a late reply ends an endless loop at any of them."""
        asked: list[int] = []
        for _ in range(_TIMES):
            with self.opened() as driver:
                self._not_ready(driver, reply)
                expect = partial(self._expect, None, shown(reply), "that came every time", driver, needed=True)
                waited_s = self.clock.waited()
                asked.append(len(self.heard(expect)))
                self._expect_pauses(asked[-1], self.clock.waited() - waited_s, shown(reply))
            if any(abs(one - asked[-1]) <= 1 + _ALIKE * one for one in asked[:-1]):
                return
        self.too_late(
            self.place(self.value_call),
            f"ended after {', '.join(map(str, asked))} questions at {shown(reply)}, that came every time",
            "an end by a deadline comes after as many questions again: here chance ended it, such as a late reply",
            _BUSY_LOOP,
        )

    def _expect_pauses(self, asked: int, waited_s: float, reply: str) -> None:
        """An instrument that is asked without a pause has no time to become ready, and its clock is the real one."""
        if asked > _AT_ONCE and not waited_s:
            advise(
                self.place(self.value_call),
                f"asked {asked} times at {reply}, and waited 0 s on the clock in between",
                "an instrument that is not ready is given time before it is asked again",
                _BUSY_LOOP,
            )

    def _expect(self, before: float | None, reply: str, when: str, driver: Any, needed: bool) -> None:
        """The reading from `before`, or an error, which is `needed` where nothing else comes."""
        found, error = self.attempt(self.value_call, lambda: self.value(driver), f"at {reply}, {when}", loop=_BUSY_LOOP)
        self.peer.heal()
        right = found is not None and before is not None and same(found, before)
        if error is None and (needed or not right):
            advise(
                self.place(self.value_call),
                f"gave {found} for {reply}, {when}",
                "an instrument that is not ready has not measured yet",
                "ask again on connection.clock until a deadline, then raise InstrumentError(self.connection.name, …)",
            )

    def _not_ready(self, driver: Any, reply: bytes, times: int | None = None) -> None:
        """From now on, or so many times, the question for a reading brings this in place of one."""
        said = self.heard(lambda: self.whatever_comes(lambda: self.value(driver)))
        for question in {one.message for one in said if one.reply == self.healthy}:
            self.peer.say_instead(question, repeat(reply) if times is None else repeat(reply, times))
