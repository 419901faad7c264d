"""Nothing moves before its settings are read back, and the safe state is reached from any state."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest
from pyvisa.constants import StatusCode

from rigproof.errors import InstrumentError, NumberError, Stopped
from rigproof.instruments import Settings
from rigproof_scpi.pressure_source import PressureSource

if TYPE_CHECKING:
    from .conftest import Bench

SOCKET = "TCPIP::192.0.2.16::5025::SOCKET"
BUS = "GPIB0::9::INSTR"
NO_ERROR = '0,"No error"'


def built(bench: Bench, where: str = SOCKET) -> PressureSource:
    return PressureSource(bench.connection(where, "pump"), Settings())


def opened(bench: Bench, where: str = SOCKET) -> PressureSource:
    pump = built(bench, where)
    bench.greet(where)
    pump.open()
    return pump


def set_to(bench: Bench, header: str, value: str, reads_back: str) -> None:
    bench.accepted(SOCKET, f"{header} {value}")
    bench.script(SOCKET, (f"{header}?", reads_back))


def test_rise_reads_rate_and_target_back_first(bench: Bench) -> None:
    pump = opened(bench)
    set_to(bench, "SOUR:PRES:SLEW", "50000", "5E+04")
    set_to(bench, "SOUR:PRES", "3575000", "3.575E+06")
    bench.accepted(SOCKET, "OUTP ON")
    bench.script(SOCKET, ("OUTP?", "1"))
    pump.rise_to(35.75e5, 0.5e5)


def test_a_fall_to_zero_allows_for_the_steps_of_the_source(bench: Bench) -> None:
    pump = opened(bench)
    set_to(bench, "SOUR:PRES:SLEW", "12345.6789", "12345")
    set_to(bench, "SOUR:PRES", "0", "50")
    bench.accepted(SOCKET, "OUTP ON")
    bench.script(SOCKET, ("OUTP?", "1"))
    pump.rise_to(0.0, 12345.67891)


@pytest.mark.parametrize("reads_back", ["60000", "0", "9.9E37", "9.91E37"])
def test_a_rate_that_did_not_take(bench: Bench, reads_back: str) -> None:
    pump = opened(bench)
    set_to(bench, "SOUR:PRES:SLEW", "50000", reads_back)
    with pytest.raises(InstrumentError, match=r"pump: SOUR:PRES:SLEW\?: it reads back .*; it was set to 50000"):
        pump.rise_to(35.75e5, 0.5e5)


def test_a_target_that_did_not_take(bench: Bench) -> None:
    pump = opened(bench)
    set_to(bench, "SOUR:PRES:SLEW", "50000", "50000")
    set_to(bench, "SOUR:PRES", "3575000", "35750000")
    with pytest.raises(InstrumentError, match=r"reads back 3.575e\+07; it was set to 3.575e\+06"):
        pump.rise_to(35.75e5, 0.5e5)


def test_a_target_that_is_refused(bench: Bench) -> None:
    pump = opened(bench)
    set_to(bench, "SOUR:PRES:SLEW", "50000", "50000")
    bench.script(SOCKET, ("SOUR:PRES 9E+09", None), ("SYST:ERR?", '-222,"Data out of range"'), ("SYST:ERR?", NO_ERROR))
    with pytest.raises(InstrumentError, match=r"SOUR:PRES 9E\+09: its error queue then held -222"):
        pump.rise_to(9e9, 0.5e5)


def test_an_output_that_does_not_come_on(bench: Bench) -> None:
    pump = opened(bench)
    set_to(bench, "SOUR:PRES:SLEW", "50000", "50000")
    set_to(bench, "SOUR:PRES", "100000", "100000")
    bench.accepted(SOCKET, "OUTP ON")
    bench.script(SOCKET, ("OUTP?", "0"))
    with pytest.raises(InstrumentError, match="the output is off; it was switched on"):
        pump.rise_to(1e5, 0.5e5)


@pytest.mark.parametrize("target", [math.nan, math.inf])
@pytest.mark.parametrize("rate", [1.0, 0.0, -1.0, math.nan, math.inf])
def test_senseless_loads_send_nothing(bench: Bench, target: float, rate: float) -> None:
    pump = opened(bench)
    with pytest.raises(NumberError, match="rate_per_s"):
        pump.rise_to(target if rate == 1.0 else 0.0, rate)


@pytest.mark.parametrize(
    ("register", "settled"), [("0", True), ("2", False), ("+3", False), ("16", True), ("18", False)]
)
def test_settled(bench: Bench, register: str, settled: bool) -> None:
    pump = opened(bench)
    bench.script(SOCKET, ("STAT:OPER:COND?", register))
    assert pump.settled() is settled


def test_isolate(bench: Bench) -> None:
    pump = opened(bench)
    bench.accepted(SOCKET, "ROUT:OPEN (@1)")
    bench.script(SOCKET, ("ROUT:CLOS? (@1)", "0"))
    pump.isolate(True)
    bench.accepted(SOCKET, "ROUT:CLOS (@1)")
    bench.script(SOCKET, ("ROUT:CLOS? (@1)", "1"))
    pump.isolate(False)


def test_a_stuck_valve(bench: Bench) -> None:
    pump = opened(bench)
    bench.accepted(SOCKET, "ROUT:OPEN (@1)")
    bench.script(SOCKET, ("ROUT:CLOS? (@1)", "1"))
    with pytest.raises(InstrumentError, match="the valve is open; it was told to shut"):
        pump.isolate(True)


def test_go_safe(bench: Bench) -> None:
    pump = opened(bench)
    for _ in range(2):
        bench.accepted(SOCKET, "OUTP OFF")
        bench.script(SOCKET, ("OUTP?", "0"))
        pump.go_safe()
    bench.script(SOCKET, ("OUTP?", "1"))
    assert pump.is_safe() is False
    assert bench.line(SOCKET).opened == 1


def second_try(bench: Bench, where: str = SOCKET, output: str = "0", identity: str = "Test bay,meter,X-1,1.0") -> None:
    bench.script(where, ("OUTP OFF", None), ("OUTP?", output))
    if output == "0" and identity:
        bench.known_again(where, identity)


@pytest.mark.parametrize("where", [SOCKET, BUS])
def test_go_safe_with_a_reply_still_to_come(bench: Bench, where: str) -> None:
    """The late reply to the valve is 0, just what a vented source would say: it must not be taken for that."""
    pump = opened(bench, where)
    bench.accepted(where, "ROUT:OPEN (@1)")
    bench.script(where, ("ROUT:CLOS? (@1)", bench.late("0", 3.0)))
    with pytest.raises(InstrumentError, match="VI_ERROR_TMO"):
        pump.isolate(True)
    bench.clock.wait(10.0)
    bench.script(where, ("OUTP OFF", None))  # at once, before anything else
    second_try(bench, where, "1")
    with pytest.raises(InstrumentError, match="the part may be under pressure"):
        pump.go_safe()


def test_go_safe_after_a_stop_in_the_middle_of_a_query(bench: Bench) -> None:
    pump = opened(bench)
    bench.script(SOCKET, ("STAT:OPER:COND?", Stopped("Ctrl-C")))
    with pytest.raises(Stopped):
        pump.settled()
    bench.script(SOCKET, ("OUTP OFF", None))
    second_try(bench)
    pump.go_safe()
    assert bench.line(SOCKET).opened == 2


def test_is_safe_is_read_on_a_fresh_connection_after_a_failed_query(bench: Bench) -> None:
    pump = opened(bench)
    bench.script(SOCKET, ("STAT:OPER:COND?", bench.late("0", 3.0)))
    with pytest.raises(InstrumentError):
        pump.settled()
    bench.clock.wait(5.0)
    bench.known_again(SOCKET)
    bench.script(SOCKET, ("OUTP?", "1"))
    assert pump.is_safe() is False
    assert bench.line(SOCKET).opened == 2


@pytest.mark.parametrize("reply", [b"1\n0\n", b"%%\n", None])
def test_go_safe_when_the_last_query_went_wrong(bench: Bench, reply: object) -> None:
    """Also where one reply too many waits unnoticed: the error queue is asked first, and gets it."""
    pump = opened(bench)
    bench.script(SOCKET, ("OUTP?", reply))
    if reply == b"1\n0\n":
        assert pump.is_safe() is False
        bench.script(SOCKET, ("OUTP OFF", None), ("SYST:ERR?", NO_ERROR))
    else:
        with pytest.raises(InstrumentError):
            pump.is_safe()
    bench.script(SOCKET, ("OUTP OFF", None))
    second_try(bench)
    pump.go_safe()


def test_go_safe_with_old_errors_in_the_queue(bench: Bench) -> None:
    pump = opened(bench)
    bench.script(SOCKET, ("OUTP OFF", None), ("SYST:ERR?", '-410,"Query INTERRUPTED"'), ("SYST:ERR?", NO_ERROR))
    bench.script(SOCKET, ("OUTP OFF", None))
    second_try(bench)
    pump.go_safe()


def test_go_safe_with_an_error_queue_that_never_ends(bench: Bench) -> None:
    pump = opened(bench)
    bench.script(SOCKET, ("OUTP OFF", None), *[("SYST:ERR?", '-350,"Queue overflow"')] * 65, ("OUTP OFF", None))
    second_try(bench)
    pump.go_safe()


def test_go_safe_before_open_and_after_close(bench: Bench) -> None:
    pump = built(bench)
    second_try(bench, identity="")
    pump.go_safe()
    pump.close()
    second_try(bench, identity="")
    pump.go_safe()
    bench.script(SOCKET, ("OUTP?", "0"))
    assert pump.is_safe() is True


def test_the_safe_state_of_another_instrument_counts_for_nothing(bench: Bench) -> None:
    pump = opened(bench)
    bench.script(SOCKET, ("OUTP OFF", None), ("SYST:ERR?", None), ("OUTP OFF", None))
    second_try(bench, identity="Test bay,meter,X-2,1.0")
    with pytest.raises(InstrumentError, match="X-2 answers"):
        pump.go_safe()


def test_go_safe_over_a_dead_link(bench: Bench) -> None:
    pump = opened(bench)
    lost = StatusCode.error_connection_lost
    bench.script(SOCKET, ("OUTP OFF", lost), ("OUTP OFF", lost), ("OUTP OFF", lost))
    with pytest.raises(InstrumentError, match="VI_ERROR_CONN_LOST"):
        pump.go_safe()


def test_go_safe_while_the_output_stays_on(bench: Bench) -> None:
    pump = opened(bench)
    bench.accepted(SOCKET, "OUTP OFF")
    bench.script(SOCKET, ("OUTP?", "1"), ("OUTP OFF", None))
    second_try(bench, output="1")
    with pytest.raises(InstrumentError, match=r"the output is still on; .*open the vent by hand"):
        pump.go_safe()
