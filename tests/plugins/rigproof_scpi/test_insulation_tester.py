"""The test voltage is on only while the tester measures, whatever happens."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from rigproof.errors import InstrumentError, NumberError, Stopped
from rigproof.instruments import Settings
from rigproof_scpi.insulation_tester import InsulationTester

if TYPE_CHECKING:
    from .conftest import Bench

WHERE = "TCPIP::192.0.2.13::5025::SOCKET"
NO_ERROR = '0,"No error"'


def opened(bench: Bench) -> InsulationTester:
    tester = InsulationTester(bench.connection(WHERE, "tester"), Settings())
    bench.greet(WHERE)
    tester.open()
    return tester


def switched_on(bench: Bench, volt: str = "50") -> None:
    bench.accepted(WHERE, f"SOUR:VOLT {volt}", "OUTP ON")
    bench.script(WHERE, ("OUTP?", "1"))


def switched_off(bench: Bench) -> None:
    bench.accepted(WHERE, "OUTP OFF", "SOUR:VOLT 0")
    bench.script(WHERE, ("OUTP?", "0"))


def switched_off_for_sure(bench: Bench) -> None:
    bench.script(WHERE, ("OUTP OFF", None), ("OUTP OFF", None), ("OUTP?", "0"))


@pytest.mark.parametrize(("reply", "ohm"), [("2.05E+10", 2.05e10), ("9.9E37", math.inf)])
def test_a_reading(bench: Bench, reply: str, ohm: float) -> None:
    tester = opened(bench)
    switched_on(bench, "-50")
    bench.script(WHERE, ("MEAS:RES? (@2)", reply))
    switched_off(bench)
    assert tester.insulation_ohm(2, -50.0, 60.0) == ohm
    assert bench.clock.waits == [60.0]


@pytest.mark.parametrize(("reply", "came"), [("-9.9E37", "negative infinity"), ("9.91E37", "not-a-number")])
def test_no_reading_is_never_taken_for_above_the_range(bench: Bench, reply: str, came: str) -> None:
    tester = opened(bench)
    switched_on(bench)
    bench.script(WHERE, ("MEAS:RES? (@1)", reply))
    switched_off_for_sure(bench)
    with pytest.raises(InstrumentError, match=rf"MEAS:RES\? \(@1\): {came}"):
        tester.insulation_ohm(1, 50.0, 1.0)


def test_the_voltage_goes_off_when_the_reading_fails(bench: Bench) -> None:
    tester = opened(bench)
    switched_on(bench)
    bench.script(WHERE, ("MEAS:RES? (@1)", None))
    switched_off_for_sure(bench)
    with pytest.raises(InstrumentError, match="VI_ERROR_TMO"):
        tester.insulation_ohm(1, 50.0, 1.0)
    assert bench.line(WHERE).opened == 2


def test_the_voltage_goes_off_when_the_operator_stops(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    tester = opened(bench)
    switched_on(bench)
    switched_off_for_sure(bench)

    def stop(seconds: float) -> None:
        raise Stopped("Ctrl-C")

    monkeypatch.setattr(bench.clock, "wait", stop)
    with pytest.raises(Stopped):
        tester.insulation_ohm(1, 50.0, 60.0)


def test_an_output_that_does_not_come_on(bench: Bench) -> None:
    tester = opened(bench)
    bench.accepted(WHERE, "SOUR:VOLT 50", "OUTP ON")
    bench.script(WHERE, ("OUTP?", "0"))
    switched_off_for_sure(bench)
    with pytest.raises(InstrumentError, match="the output is off; it was switched on"):
        tester.insulation_ohm(1, 50.0, 1.0)


def test_a_voltage_that_is_refused(bench: Bench) -> None:
    tester = opened(bench)
    entry = '-222,"Data out of range"'
    bench.script(WHERE, ("SOUR:VOLT 500", None), ("OUTP ON", None), ("SYST:ERR?", entry), ("SYST:ERR?", NO_ERROR))
    switched_off_for_sure(bench)
    with pytest.raises(InstrumentError, match="-222"):
        tester.insulation_ohm(1, 500.0, 1.0)


def test_an_output_that_stays_on(bench: Bench) -> None:
    tester = opened(bench)
    switched_on(bench)
    bench.script(WHERE, ("MEAS:RES? (@1)", "1E10"))
    bench.accepted(WHERE, "OUTP OFF", "SOUR:VOLT 0")
    bench.script(WHERE, ("OUTP?", "1"), ("OUTP OFF", None), ("OUTP OFF", None), ("OUTP?", "1"))
    with pytest.raises(InstrumentError, match=r"the test voltage may still be on: .*the output is on"):
        tester.insulation_ohm(1, 50.0, 1.0)


@pytest.mark.parametrize(("channel_input", "volt"), [(0, 50.0), (1, math.nan)])
def test_senseless_requests_send_nothing(bench: Bench, channel_input: int, volt: float) -> None:
    tester = opened(bench)
    with pytest.raises(NumberError):
        tester.insulation_ohm(channel_input, volt, 1.0)
