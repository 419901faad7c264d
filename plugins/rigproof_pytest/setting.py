"""Promises about settings: they are sent as rig.yaml has them, and neither `look` nor `resume` sends any."""

from __future__ import annotations

from functools import partial
from typing import Any

import pytest

from rigproof.instruments import Driver, Reads, TestsInsulation

from .asking import Asking
from .kit import advise, needs, same
from .reading import Reading
from .told import content

_ELSEWHERE = 999  # an input that few instruments have


class Setting(Asking, Reading):
    """What a zero rests on stays as it is, whoever looks and however often the line is lost."""

    def test_other_settings_are_sent_too(self) -> None:
        """What is sent follows the settings."""
        settings, sends = self.otherwise
        if not sends:
            pytest.skip("otherwise is not stated: a setting that is written into the driver would pass")
        driver = self.make(settings)
        self.well("open()", driver.open)
        if self._reads:
            self.well(self.value_call, lambda: self.value(driver))
        said = {one.message for one in self.peer.said}
        self.shut(driver)
        if left := [message for message in sends if content(message) not in said]:
            advise(
                self.place("open()"),
                f"did not send {', '.join(map(repr, left))} where rig.yaml has settings: {dict(settings)}",
                "the settings of rig.yaml reach the instrument, whatever they are",
                "put the value of self.settings into the message",
            )

    def test_a_look_sets_nothing(self) -> None:
        """`Driver.look`, and the reading that may follow it, leave the instrument as it is."""
        if not self.sends:
            pytest.skip("sends is not stated: a look() that sets something would pass")
        driver = self.make()
        self.well("look()", driver.look)
        if self._reads:
            self.whatever_comes(lambda: self.value(driver))
        self.shut(driver)
        self._expect_unset("look()", 0, "return who is there, and ask for what a reading needs; set it in open() alone")

    def test_resume_reads_on_and_sets_nothing(self) -> None:
        """`Driver.resume`: on a lost line, says who answers, reads as before; what a zero rests on stays as it is."""
        driver = self.make()
        try:
            first, before = self.well("open()", driver.open), self._reading(driver)
            self.peer.hang_up()
            mark = len(self.peer.said)
            found = self.well("resume()", driver.resume)
            after = self._reading(driver)
        finally:
            self.shut(driver)
        own = self.driver.resume is not Driver.resume  # else it is `open`, which has tests of its own
        if (own and found != first) or not same(before, after):
            advise(
                self.place("resume()"),
                f"gave {found!r}, and the reading {after:g} after {before:g}",
                "it connects again, says who answers, and readings go on as they were",
                "ask who is there and for what a reading needs, as look() does",
            )
        self._expect_unset("resume()", mark, "connect and ask, as look() does: self.close(), return self.look()")
        if not self.sends:
            pytest.skip("sends is not stated: a resume() that sets something would pass")

    @needs(Reads)
    def test_an_input_is_chosen_anew_after_a_lost_line(self) -> None:
        """Whatever input somebody has chosen meanwhile, the one that is asked for is read."""
        if len(self.inputs) < 2:
            pytest.skip("one input cannot be taken for another: state two in inputs if the instrument has them")
        first, other = self.inputs[0], self.inputs[-1]
        for call in ("resume()", "open()"):
            with self.opened() as driver:
                mark = len(self.peer.said)
                wrong = self.well(self.value_call, partial(self.value, driver, first))
                chooses = self.peer.said[mark:]
                before = self.well(f"read([{other}], 1, 0.0)", partial(self.value, driver, other))
                self.peer.hang_up()
                if call == "open()":
                    self.shut(driver)
                self.peer.overhear(one.message for one in chooses)
                self.well(call, driver.resume if call == "resume()" else driver.open)
                after = self.well(f"read([{other}], 1, 0.0)", partial(self.value, driver, other))
            if same(wrong, after) and not same(before, after):
                advise(
                    self.place(f"read([{other}], 1, 0.0)"),
                    f"gave {after:g} after {call}, and {before:g} before the line was lost: input {first} had been "
                    "chosen meanwhile",
                    "which input is chosen in the instrument nobody knows on a new line: a check of one gauge must not "
                    "rest on another",
                    "choose the input before each reading, or forget in close() which one was chosen",
                )

    @needs(Reads)
    def test_check_refuses_what_it_cannot_read(self) -> None:
        """`Reads.unreadable`: tells a channel of another kind, and one at an input that it knows to be none."""
        if not self.measures:
            pytest.skip("measures is not stated: see test_units")
        first = self.inputs[0]
        other = "temperature" if self.measures != "temperature" else "force"
        cases = [(first, other, f"it measures {self.measures} only")]
        if self._knows_that_there_is_no(_ELSEWHERE):
            cases.append((_ELSEWHERE, self.measures, f"read refuses input {_ELSEWHERE} without asking"))
        for number, kind, why in cases:
            if not self.driver.unreadable(self.their_settings(), number, kind):  # type: ignore[attr-defined]
                advise(
                    self.place(f"unreadable(settings, {number}, {kind!r})"),
                    f"said nothing, and {why}",
                    "`rigproof check` tells a channel that cannot be read before anybody is at the bench",
                    'write the class method unreadable, which gives the reason in words, and "" where there is none',
                )

    def _knows_that_there_is_no(self, number: int) -> bool:
        """Whether a reading of this input is refused without a word to the instrument."""
        with self.opened() as driver:
            mark = len(self.peer.said)
            refused = not self.refusal(lambda: driver.read([number], 1, 0.0))
            return refused and len(self.peer.said) == mark

    @property
    def _reads(self) -> bool:
        return issubclass(self.driver, Reads | TestsInsulation)

    def _reading(self, driver: Any) -> float:
        return self.well(self.value_call, lambda: self.value(driver)) if self._reads else 0.0

    def _expect_unset(self, call: str, mark: int, remedy: str) -> None:
        """None of `sends` was said since `mark`."""
        said = {one.message for one in self.peer.said[mark:]}
        if sent := [message for message in self.sends if content(message) in said]:
            advise(
                self.place(call),
                f"sent {', '.join(map(repr, sent))}",
                "a look leaves the instrument as it is, and a resumption what zeros rest on; what only chooses an "
                "input is no setting, and is not stated in sends",
                remedy,
            )
