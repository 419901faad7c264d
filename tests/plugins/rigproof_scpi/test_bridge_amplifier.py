"""Excitation, shunt relays and scans, to the byte."""

from __future__ import annotations

import math
import struct
from typing import TYPE_CHECKING

import numpy as np
import pytest
from pydantic import ValidationError

from rigproof.errors import InstrumentError, NumberError
from rigproof.instruments import Settings
from rigproof_scpi.bridge_amplifier import BridgeAmplifier, BridgeSettings

if TYPE_CHECKING:
    from .conftest import Bench

WHERE = "TCPIP::192.0.2.11::5025::SOCKET"
NO_ERROR = '0,"No error"'


def opened(bench: Bench) -> BridgeAmplifier:
    amplifier = BridgeAmplifier(bench.connection(WHERE, "bridge"), BridgeSettings(excitation="2.5 V"))
    bench.greet(WHERE)
    amplifier.open()
    return amplifier


def fed(bench: Bench, *inputs: int) -> None:
    where = f"(@{','.join(map(str, inputs))})"
    bench.accepted(WHERE, f"SOUR:VOLT 2.5,{where}", f"ROUT:OPEN {where}")
    for number in inputs:
        bench.script(WHERE, (f"SOUR:VOLT? (@{number})", "2.5E+00"), (f"ROUT:CLOS? (@{number})", "0"))


def configured(bench: Bench, inputs: str, count: int, interval: str) -> None:
    bench.accepted(
        WHERE,
        f"CONF:VOLT:RAT {inputs}",
        f"SENS:SWE:POIN {count}",
        f"SENS:SWE:TINT {interval}",
        "FORM REAL,64",
        "FORM:BORD NORM",
    )


def block(*values: float) -> bytes:
    data = struct.pack(f">{len(values)}d", *values)
    return f"#{len(str(len(data)))}{len(data)}".encode() + data + b"\n"


def test_scans_come_in_rows(bench: Bench) -> None:
    amplifier = opened(bench)
    fed(bench, 1, 2)
    configured(bench, "(@1,2)", 3, "0.02")
    bench.script(WHERE, ("READ?", block(1e-4, 2e-4, 3e-4, 4e-4, 5e-4, 6e-4)), ("SYST:ERR?", NO_ERROR))
    readings = amplifier.read([1, 2], 3, 0.02)
    np.testing.assert_array_equal(readings, [[1e-4, 2e-4], [3e-4, 4e-4], [5e-4, 6e-4]])
    assert bench.clock.waits == []  # the instrument keeps the time


def test_an_input_is_fed_once_until_the_next_open(bench: Bench) -> None:
    amplifier = opened(bench)
    for inputs, new in [((1,), (1,)), ((1, 2), (2,)), ((2, 1), ())]:
        if new:
            fed(bench, *new)
        configured(bench, f"(@{','.join(map(str, inputs))})", 1, "MIN")
        bench.script(WHERE, ("READ?", block(*[1e-4] * len(inputs))), ("SYST:ERR?", NO_ERROR))
        amplifier.read(inputs, 1, 0.0)
    bench.greet(WHERE)
    amplifier.open()
    fed(bench, 1)
    configured(bench, "(@1)", 1, "MIN")
    bench.script(WHERE, ("READ?", block(1e-4)), ("SYST:ERR?", NO_ERROR))
    amplifier.read([1], 1, 0.0)


def test_a_scan_like_the_last_one_is_not_set_up_again(bench: Bench) -> None:
    amplifier = opened(bench)
    fed(bench, 1)
    configured(bench, "(@1)", 1, "MIN")
    for _ in range(2):
        bench.script(WHERE, ("READ?", block(1e-4)), ("SYST:ERR?", NO_ERROR))
        amplifier.read([1], 1, 0.0)
    configured(bench, "(@1)", 2, "0.5")
    bench.script(WHERE, ("READ?", block(1e-4, 2e-4)), ("SYST:ERR?", NO_ERROR))
    amplifier.read([1], 2, 0.5)


def test_the_reply_may_take_count_times_interval_longer(bench: Bench) -> None:
    amplifier = opened(bench)
    fed(bench, 1)
    configured(bench, "(@1)", 10, "1")
    late = bench.late("", 11.9)
    late.reply = block(*[1e-4] * 10)
    bench.script(WHERE, ("READ?", late), ("SYST:ERR?", NO_ERROR))
    assert amplifier.read([1], 10, 1.0).shape == (10, 1)
    assert bench.clock.now() == pytest.approx(11.9)


def test_overload_and_open_circuit_are_nan(bench: Bench) -> None:
    amplifier = opened(bench)
    fed(bench, 1)
    configured(bench, "(@1)", 4, "1E-05")
    bench.script(WHERE, ("READ?", block(9.9e37, -9.9e37, 9.91e37, 1e-4)), ("SYST:ERR?", NO_ERROR))
    np.testing.assert_array_equal(amplifier.read([1], 4, 1e-5), [[math.nan], [math.nan], [math.nan], [1e-4]])


def test_a_scan_of_another_length(bench: Bench) -> None:
    amplifier = opened(bench)
    fed(bench, 1, 2)
    configured(bench, "(@1,2)", 2, "0.02")
    bench.script(WHERE, ("READ?", block(1e-4, 2e-4)))
    with pytest.raises(InstrumentError, match=r"READ\?: .*must announce 32 bytes, not 16"):
        amplifier.read([1, 2], 2, 0.02)


def test_a_configuration_that_is_refused_is_never_read(bench: Bench) -> None:
    amplifier = opened(bench)
    fed(bench, 1)
    bench.script(WHERE, ("CONF:VOLT:RAT (@1)", None), ("SENS:SWE:POIN 1", None), ("SENS:SWE:TINT MIN", None))
    bench.script(WHERE, ("FORM REAL,64", None), ("FORM:BORD NORM", None))
    bench.script(WHERE, ("SYST:ERR?", '-222,"Data out of range"'), ("SYST:ERR?", NO_ERROR))
    with pytest.raises(InstrumentError, match=r"SENS:SWE:TINT MIN; .*-222"):
        amplifier.read([1], 1, 0.0)


def test_excitation(bench: Bench) -> None:
    amplifier = opened(bench)
    fed(bench, 3)
    bench.script(WHERE, ("SOUR:VOLT? (@3)", "2.4983"))
    assert amplifier.excitation_v(3) == 2.4983


@pytest.mark.parametrize("reads_back", ["0", "2.4", "-2.5", "9.9E37", "9.91E37"])
def test_an_excitation_that_did_not_take(bench: Bench, reads_back: str) -> None:
    amplifier = opened(bench)
    for _ in range(2):  # the second time too: an input counts as fed only once it reads back
        bench.accepted(WHERE, "SOUR:VOLT 2.5,(@1)", "ROUT:OPEN (@1)")
        bench.script(WHERE, ("SOUR:VOLT? (@1)", reads_back))
        with pytest.raises(InstrumentError, match=r"bridge: SOUR:VOLT\? \(@1\): "):
            amplifier.read([1], 1, 0.0)


def test_shunt(bench: Bench) -> None:
    amplifier = opened(bench)
    fed(bench, 2)
    for message, closed in [("ROUT:CLOS (@2)", True), ("ROUT:OPEN (@2)", False)]:
        bench.accepted(WHERE, message)
        bench.script(WHERE, ("ROUT:CLOS? (@2)", str(int(closed))))
        amplifier.shunt(2, closed)


@pytest.mark.parametrize(("message", "closed", "state"), [("CLOS", True, "open"), ("OPEN", False, "closed")])
def test_a_stuck_relay(bench: Bench, message: str, closed: bool, state: str) -> None:
    amplifier = opened(bench)
    fed(bench, 1)
    bench.accepted(WHERE, f"ROUT:{message} (@1)")
    bench.script(WHERE, ("ROUT:CLOS? (@1)", str(int(not closed))))
    with pytest.raises(InstrumentError, match=f"the shunt relay is {state}; it was told to"):
        amplifier.shunt(1, closed)


def test_a_relay_that_a_former_run_left_closed_and_that_sticks(bench: Bench) -> None:
    amplifier = opened(bench)
    bench.accepted(WHERE, "SOUR:VOLT 2.5,(@1)", "ROUT:OPEN (@1)")
    bench.script(WHERE, ("SOUR:VOLT? (@1)", "2.5"), ("ROUT:CLOS? (@1)", "1"))
    with pytest.raises(InstrumentError, match="the shunt relay is closed; it was told to open"):
        amplifier.read([1], 1, 0.0)


def test_after_a_failed_reading_it_must_be_opened_again(bench: Bench) -> None:
    """It may have lost its settings."""
    amplifier = opened(bench)
    fed(bench, 1)
    configured(bench, "(@1)", 1, "MIN")
    bench.script(WHERE, ("READ?", None))
    with pytest.raises(InstrumentError, match="VI_ERROR_TMO"):
        amplifier.read([1], 1, 0.0)
    with pytest.raises(InstrumentError, match="open the instrument again"):
        amplifier.read([1], 1, 0.0)


def test_senseless_requests_send_nothing(bench: Bench) -> None:
    amplifier = opened(bench)
    with pytest.raises(NumberError):
        amplifier.read([1], 0, 0.02)
    with pytest.raises(NumberError):
        amplifier.shunt(0, True)
    with pytest.raises(NumberError):
        amplifier.excitation_v(-1)


@pytest.mark.parametrize("written", ["0 V", "-2.5 V", "21 V", "2.5", "2.5 mV/V", "2,5 V", ""])
def test_an_excitation_that_makes_no_sense(written: str) -> None:
    with pytest.raises(ValidationError):
        BridgeSettings(excitation=written)


def test_settings_are_required_and_known() -> None:
    with pytest.raises(ValidationError):
        BridgeSettings()
    with pytest.raises(ValidationError):
        BridgeSettings.model_validate({"excitation": "2.5 V", "gain": "1"})
    assert BridgeSettings.model_validate({"excitation": "500 mV"}).excitation.value == 0.5


def test_settings_of_another_driver(bench: Bench) -> None:
    with pytest.raises(TypeError, match="BridgeSettings"):
        BridgeAmplifier(bench.connection(WHERE), Settings())


def test_the_excitation_is_known_before_any_hardware() -> None:
    assert BridgeAmplifier.set_excitation_v(BridgeSettings(excitation="2.5 V")) == 2.5
    assert BridgeAmplifier.set_excitation_v(Settings()) is None


def test_resume_sets_nothing_and_sees_that_all_is_as_it_was(bench: Bench) -> None:
    """A zero rests on the excitation; a shunt reading under way on the relay: both stay, and are read back."""
    amplifier = opened(bench)
    fed(bench, 1)
    bench.accepted(WHERE, "ROUT:CLOS (@1)")
    bench.script(WHERE, ("ROUT:CLOS? (@1)", "1"))
    amplifier.shunt(1, True)
    bench.known_again(WHERE)
    bench.script(WHERE, ("SOUR:VOLT? (@1)", "2.5"), ("ROUT:CLOS? (@1)", "1"))
    assert amplifier.resume().serial_number == "X-1"


@pytest.mark.parametrize(
    ("readback", "told"),
    [
        ([("SOUR:VOLT? (@1)", "5")], "5 V; it was set to 2.5 V"),
        ([("SOUR:VOLT? (@1)", "2.5"), ("ROUT:CLOS? (@1)", "0")], "the shunt relay is open"),
    ],
)
def test_resume_refuses_an_amplifier_that_was_switched_off_meanwhile(
    bench: Bench, readback: list[tuple[str, str]], told: str
) -> None:
    amplifier = opened(bench)
    fed(bench, 1)
    bench.accepted(WHERE, "ROUT:CLOS (@1)")
    bench.script(WHERE, ("ROUT:CLOS? (@1)", "1"))
    amplifier.shunt(1, True)
    bench.known_again(WHERE)
    bench.script(WHERE, *readback)
    with pytest.raises(InstrumentError, match=told):
        amplifier.resume()


def test_an_input_that_it_has_not_is_known_before_any_hardware() -> None:
    four = BridgeSettings(excitation="2.5 V", inputs=4)
    assert BridgeAmplifier.unreadable(four, 4, "bridge output") == ""
    assert BridgeAmplifier.unreadable(four, 9, "bridge output") == "it has 4 inputs, and none numbered 9"
    assert BridgeAmplifier.unreadable(BridgeSettings(excitation="2.5 V"), 9, "bridge output") == ""
