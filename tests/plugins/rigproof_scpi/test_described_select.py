"""A meter whose input is selected by a message, whose settings are acknowledged and which may be busy."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
import pytest

from rigproof.errors import InstrumentError
from rigproof.instruments import Identity
from rigproof_pytest import DriverContract, Instrument
from rigproof_scpi.command_map import MeterMap, SourceMap
from rigproof_scpi.described_meter import DescribedMeter
from rigproof_scpi.described_source import DescribedSource

from . import test_described_contract as plain

if TYPE_CHECKING:
    from .conftest import Bench

SOCKET = "TCPIP::192.0.2.15::4001::SOCKET"
MAP: dict[str, Any] = {
    "quantity": "bridge output",
    "unit": "mV/V",
    "identity": {"ask": "ID", "reply": "{maker},{model},{serial number}"},
    "error": {"ask": "ER?", "none": "0", "some": "1* *"},
    "at start": "FL2",
    "acknowledged": "OK",
    "read": {
        "select": "CH{input}",
        "ask": "RD",
        "reply": "ST,{value},mV/V",
        "overload": "OL",
        "busy": ["BUSY", "WAIT {input}"],
    },
}
WHO, WELL = ("ID", "own make,indicator,7"), ("ER?", "0")


def selecting(**changes: object) -> dict[str, Any]:
    return {**MAP, "read": {**MAP["read"], **changes}}


def opened(bench: Bench, written: dict[str, Any] = MAP) -> DescribedMeter:
    bench.script(SOCKET, ("FL2", "OK"), WELL, WHO)
    meter = DescribedMeter(bench.connection(SOCKET), MeterMap.model_validate(written))
    meter.open()
    return meter


def test_an_input_is_selected_once_a_block_and_where_it_changes(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(SOCKET, ("CH2", "OK"), ("RD", "ST,+0.5000,mV/V"), ("RD", "ST,+0.6000,mV/V"), WELL)
    assert meter.read([2], 2, 0.0) == pytest.approx(np.array([[0.5e-3], [0.6e-3]]))
    told = [("CH1", "OK"), ("RD", "ST,+0.1000,mV/V"), ("CH2", "OK"), ("RD", "OL")]
    bench.script(SOCKET, *told, *told, WELL)
    assert meter.read([1, 2], 2, 0.0) == pytest.approx(np.array([[0.1e-3, math.nan]] * 2), nan_ok=True)


def test_it_is_selected_again_after_a_failed_reading(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(SOCKET, ("CH1", "OK"), ("RD", None))
    with pytest.raises(InstrumentError, match=r"RD: .*within 2 s"):
        meter.read([1], 1, 0.0)
    bench.script(SOCKET, WHO, ("CH1", "OK"), ("RD", "ST,+0.1000,mV/V"), WELL)
    assert meter.read([1], 1, 0.0)[0, 0] == pytest.approx(0.1e-3)


def test_several_messages_may_select_and_not_all_need_the_input(bench: Bench) -> None:
    meter = opened(bench, selecting(select=["CH{input}", "GAIN 2"]))
    bench.script(SOCKET, ("CH1", "OK"), ("GAIN 2", "OK"), ("RD", "ST,+0.1000,mV/V"), WELL)
    assert meter.read([1], 1, 0.0)[0, 0] == pytest.approx(0.1e-3)


def test_an_input_that_is_not_acknowledged_is_not_read(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(SOCKET, ("CH9", "ERR 4"))
    with pytest.raises(InstrumentError, match=r"CH9: the reply was 'ERR 4\\n'; it is acknowledged with 'OK'"):
        meter.read([9], 1, 0.0)


def test_a_busy_instrument_is_asked_again(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(SOCKET, ("CH1", "OK"), ("RD", "BUSY"), ("RD", "WAIT 1"), ("RD", "ST,+0.1000,mV/V"), WELL)
    assert meter.read([1], 1, 0.0)[0, 0] == pytest.approx(0.1e-3)
    assert bench.clock.waits.count(0.05) == 2


def test_an_instrument_that_stays_busy_is_left_after_one_timeout(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(SOCKET, ("CH1", "OK"), *[("RD", "BUSY")] * 41)  # 0.05 s and 1 ms apart
    began_s = bench.clock.now()
    with pytest.raises(InstrumentError, match=r"reading input 1: it was busy for 2 s.*longer `timeout:`"):
        meter.read([1], 1, 0.0)
    assert bench.clock.now() - began_s == pytest.approx(2.0, abs=0.1)


def test_an_input_may_stand_in_what_selects() -> None:
    assert DescribedMeter.unreadable(MeterMap.model_validate(MAP), 2, "bridge output") == ""
    assert "input 1 only" in DescribedMeter.unreadable(
        MeterMap.model_validate(selecting(select="CH1")), 2, "bridge output"
    )


class Indicator(Instrument):
    """Two inputs, one shown at a time; busy for one question after each change."""

    shown, busy = 0, 0

    def answer(self, message: str) -> str | None:
        if message in {"CH1", "CH2"}:
            self.shown, self.busy = int(message[2]), 1
            return "OK"
        if message == "RD":
            self.busy -= 1
            return "BUSY" if self.busy == 0 else ("?", "ST,+1.2340,mV/V", "ST,-0.5000,mV/V")[self.shown]
        return dict([WHO, WELL, ("FL2", "OK")]).get(message)


class TestSelecting(DriverContract):
    driver = DescribedMeter
    settings: ClassVar = MAP
    sends = ("FL2",)
    identity = Identity("own make", "indicator", "7", "")
    inputs = (1, 2)
    measures = "bridge output"
    shows: ClassVar = {1: "1.234 mV/V", 2: "-0.5 mV/V"}
    readings: ClassVar = {"ST,+1.2340,mV/V": "1.234 mV/V", "ST,-0.5000,mV/V": "-0.5 mV/V"}
    overloads = ("OL",)
    refusals = ("ERR 4", "ST,1.2340,V/V")
    error_queue: ClassVar = {"ER?": ("12 SENSOR", "13 LATE")}

    def instrument(self) -> Indicator:
        return Indicator()


ECHOED = {**MAP, "acknowledged": ["{message} OK"]}


class Echoing(Indicator):
    """Acknowledges with the message itself."""

    def answer(self, message: str) -> str | None:
        told = super().answer(message)
        return f"{message} OK" if told == "OK" else told


class TestEchoing(TestSelecting):
    settings: ClassVar = ECHOED

    def instrument(self) -> Echoing:
        return Echoing()


@pytest.mark.parametrize(
    ("form", "right", "wrong"),
    [
        ("{message} OK", "CH2 OK", "CH1 OK"),
        ("SET {input}", "SET 2", "SET 1"),
        ("{message}", "CH2", "FL2"),
    ],
)
def test_the_acknowledgement_of_another_message_is_a_fault(bench: Bench, form: str, right: str, wrong: str) -> None:
    meter = DescribedMeter(bench.connection(SOCKET), MeterMap.model_validate({**MAP, "acknowledged": ["ON", form]}))
    bench.script(SOCKET, ("FL2", "ON"), WELL, WHO)
    meter.open()
    bench.script(SOCKET, ("CH2", right), ("RD", "ST,+0.5000,mV/V"), WELL)
    assert meter.read([2], 1, 0.0)[0, 0] == pytest.approx(0.5e-3)
    bench.script(SOCKET, ("CH2", wrong))
    with pytest.raises(InstrumentError, match=rf"CH2: the reply was '{wrong}.*it is acknowledged with 'ON' or"):
        meter.read([2], 1, 0.0)


def test_an_acknowledgement_with_an_input_fits_no_message_without_one(bench: Bench) -> None:
    meter = DescribedMeter(bench.connection(SOCKET), MeterMap.model_validate({**MAP, "acknowledged": "SET {input}"}))
    bench.script(SOCKET, ("FL2", "SET 2"))
    with pytest.raises(InstrumentError, match="FL2: the reply was 'SET 2"):
        meter.open()


class PumpThatAcknowledges(plain.PumpOnTheBench):
    """Answers every setting with OK, and VENT when it is vented already with a word of its own."""

    def answer(self, message: str) -> str | None:
        vented = not self.energized
        told = super().answer(message)
        setting = message in {"RUN", "STOP", "VENT", "SHUT", "OPEN"} or " " in message
        return ("NOTHING TO DO" if message == "VENT" and vented else "OK") if setting else told


class TestAcknowledgingSource(plain.TestDescribedSource):
    settings: ClassVar = {**plain.TestDescribedSource.settings, "acknowledged": "OK"}

    def instrument(self) -> PumpThatAcknowledges:
        return PumpThatAcknowledges()


class PumpThatRepeats(PumpThatAcknowledges):
    """Acknowledges with the message itself."""

    def answer(self, message: str) -> str | None:
        told = super().answer(message)
        return f"{message} OK" if told == "OK" else told


class TestRepeatingSource(plain.TestDescribedSource):
    settings: ClassVar = {**plain.TestDescribedSource.settings, "acknowledged": "{message} OK"}

    def instrument(self) -> PumpThatRepeats:
        return PumpThatRepeats()


@pytest.mark.parametrize(
    ("acknowledged", "reply", "right"),
    [
        (["RATE {rate}", "TO {value}", "OK"], "RATE 50", True),
        (["RATE {rate}", "TO {value}", "OK"], "RATE 49.98", True),  # rounded to its own steps: 0.1 %
        (["RATE {rate}", "TO {value}", "OK"], "RATE 5", False),
        (["RATE {rate}", "TO {value}", "OK"], "RATE 9.91E37", False),
        (["RATE {rate}", "TO {value}", "OK"], "TO 50", False),  # of a message that has no {value}
    ],
)
def test_an_acknowledgement_may_repeat_the_number_that_was_set(
    bench: Bench, acknowledged: list[str], reply: str, right: bool
) -> None:
    fine = ("FAULT", "NONE")
    pump = opened_pump(bench, acknowledged=acknowledged)
    bench.script(SOCKET, ("RAMP 50.000", reply))
    if right:
        rest = [fine, ("RAMP", "50.000"), ("GOTO 1000.000", "TO 1E3"), fine, ("GOTO", "1000.000"), ("RUN", "OK"), fine]
        bench.script(SOCKET, *rest)
        pump.rise_to(10e5, 0.5e5)
        return
    with pytest.raises(
        InstrumentError, match=rf"RAMP 50\.000: the reply was '{re.escape(reply)}.*with 'RATE {{rate}}'"
    ):
        pump.rise_to(10e5, 0.5e5)


def opened_pump(bench: Bench, **changes: object) -> DescribedSource:
    written = {**TestAcknowledgingSource.settings, "terminator": "LF", **changes}
    pump = DescribedSource(bench.connection(SOCKET), SourceMap.model_validate(written))
    bench.script(SOCKET, ("MODE", "VENTED"))
    pump.open()
    return pump


def test_a_refused_setting_moves_nothing(bench: Bench) -> None:
    pump = opened_pump(bench)
    bench.script(SOCKET, ("RAMP 50.000", "TOO FAST"))
    with pytest.raises(InstrumentError, match=r"RAMP 50\.000: the reply was 'TOO FAST.*it is acknowledged with 'OK'"):
        pump.rise_to(10e5, 0.5e5)


def test_last_words_have_time_to_be_acknowledged_on_the_old_connection(bench: Bench) -> None:
    pump = opened_pump(bench)
    last_words = [("STOP", None), ("VENT", None)]
    afresh = [("STOP", "OK"), ("VENT", "ALREADY"), ("MODE", "VENTED")]
    bench.script(SOCKET, ("STOP", None), *last_words, *afresh)
    pump.go_safe()
    assert bench.clock.waits == [1.0]
    assert bench.line(SOCKET).opened == 2
