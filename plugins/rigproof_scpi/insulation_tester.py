"""Driver `insulation tester`: resistance between a gauge and the part at a low d.c. voltage."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from typing import ClassVar

from rigproof.errors import InstrumentError
from rigproof.instruments import TestsInsulation

from . import replies
from .driver import ScpiDriver, channels, written


class InsulationTester(ScpiDriver, TestsInsulation):
    """Puts the test voltage on only while it measures, and reads back that it is off."""

    kind: ClassVar[str] = "insulation tester"

    def insulation_ohm(self, channel_input: int, test_voltage_v: float, electrification_s: float) -> float:
        """Insulation resistance, `inf` above the range; what the instrument cannot measure is an error, no number."""
        query, voltage = f"MEAS:RES? {channels([channel_input])}", f"SOUR:VOLT {written(test_voltage_v)}"
        with self._voltage_on(voltage):
            self.connection.clock.wait(electrification_s)
            value = self._session.ask(query, replies.number)
            self._session.check(
                value > -math.inf,  # false for nan, too
                query,
                "negative infinity" if value == -math.inf else "not-a-number",
                "a resistance is a number or above the range",
                "look for a lead that is not connected or a voltage that is not there",
            )
        return value

    @contextmanager
    def _voltage_on(self, voltage: str) -> Iterator[None]:
        """The voltage goes off on any way out, also where a signal handler raises."""
        try:
            self._session.command(voltage, "OUTP ON")
            self._expect_output(True)
            yield
            self._session.command("OUTP OFF", "SOUR:VOLT 0")
            self._expect_output(False)
        except BaseException:
            self._switch_off_for_sure()
            raise

    def _switch_off_for_sure(self) -> None:
        self._session.last_word("OUTP OFF")  # first of all, and even if no reply ever comes
        try:
            self._session.reconnect()
            self._session.write("OUTP OFF")
            self._expect_output(False)
        except InstrumentError as error:
            raise InstrumentError(self.connection.name, f"the test voltage may still be on: {error}") from error

    def _expect_output(self, on: bool) -> None:
        is_on = self._session.ask("OUTP?", replies.boolean)
        self._session.check(
            is_on == on,
            "OUTP?",
            f"the output is {'on' if is_on else 'off'}",
            f"it was switched {'on' if on else 'off'}",
            "keep off the leads and switch the instrument off by hand",
        )
