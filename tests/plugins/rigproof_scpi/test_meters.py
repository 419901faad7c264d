"""Ohmmeter, thermometer and pressure transmitter: one query a reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from rigproof.errors import InstrumentError, NumberError
from rigproof.instruments import Settings
from rigproof_scpi.driver import Meter
from rigproof_scpi.ohmmeter import Ohmmeter
from rigproof_scpi.pressure_transmitter import PressureTransmitter
from rigproof_scpi.thermometer import Thermometer

if TYPE_CHECKING:
    from .conftest import Bench

WHERE = "TCPIP::192.0.2.15::5025::SOCKET"
NO_ERROR = '0,"No error"'


def opened(bench: Bench, driver: type[Meter] = Thermometer) -> Meter:
    meter = driver(bench.connection(WHERE), Settings())
    bench.greet(WHERE)
    meter.open()
    return meter


@pytest.mark.parametrize(
    ("driver", "query", "reply", "value"),
    [
        (Ohmmeter, "MEAS:FRES? (@3)", "+1.07794E+02", 107.794),
        (Thermometer, "MEAS:TEMP? (@3)", "19.98", 19.98),
        (PressureTransmitter, "MEAS:PRES? (@3)", "-120", -120.0),
    ],
)
def test_one_reading(bench: Bench, driver: type[Meter], query: str, reply: str, value: float) -> None:
    meter = opened(bench, driver)
    bench.script(WHERE, (query, reply), ("SYST:ERR?", NO_ERROR))
    readings = meter.read([3], 1, 0.0)
    assert readings.dtype == np.float64
    np.testing.assert_array_equal(readings, [[value]])


def test_scans_come_in_rows_at_their_times(bench: Bench) -> None:
    meter = opened(bench)
    for late, first, second in [(0.2, "1", "2"), (0.1, "3", "4")]:
        bench.script(WHERE, ("MEAS:TEMP? (@2)", bench.late(first, late)), ("MEAS:TEMP? (@1)", second))
    bench.script(WHERE, ("SYST:ERR?", NO_ERROR))
    np.testing.assert_array_equal(meter.read([2, 1], 2, 0.5), [[1, 2], [3, 4]])
    np.testing.assert_allclose(bench.clock.waits, [0.3, 0.4])
    assert bench.clock.now() == pytest.approx(1.0)


def test_a_slow_instrument_stretches_the_interval(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(WHERE, *[("MEAS:TEMP? (@1)", bench.late("1", 0.4))] * 1, ("SYST:ERR?", NO_ERROR))
    meter.read([1], 1, 0.1)
    assert bench.clock.now() == pytest.approx(0.4)


@pytest.mark.parametrize("reply", ["9.9E37", "-9.9E37", "9.91E37"])
def test_overload_and_open_circuit_are_nan(bench: Bench, reply: str) -> None:
    meter = opened(bench)
    bench.script(WHERE, ("MEAS:TEMP? (@1)", reply), ("SYST:ERR?", NO_ERROR))
    assert np.isnan(meter.read([1], 1, 0.0)).all()


def test_a_complaint_after_the_reading(bench: Bench) -> None:
    meter = opened(bench)
    entry = '-240,"Hardware error"'
    bench.script(WHERE, ("MEAS:TEMP? (@1)", "20"), ("SYST:ERR?", entry), ("SYST:ERR?", NO_ERROR))
    with pytest.raises(InstrumentError, match=r"MEAS:TEMP\? \(@1\): its error queue then held -240"):
        meter.read([1], 1, 0.0)


def test_a_reply_too_many_is_noticed(bench: Bench) -> None:
    """An instrument that answers twice is one reply ahead from then on; no reading gets out."""
    meter = opened(bench)
    bench.script(WHERE, ("MEAS:TEMP? (@1)", b"20.1\n20.1\n"), ("MEAS:TEMP? (@2)", "30.2"), ("SYST:ERR?", NO_ERROR))
    with pytest.raises(InstrumentError, match=r"SYST:ERR\?: the reply was '30.2"):
        meter.read([1, 2], 1, 0.0)


def test_after_a_failed_reading_the_next_one_is_taken_on_a_fresh_connection(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(WHERE, ("MEAS:TEMP? (@1)", bench.late("20.1", 3.0)))
    with pytest.raises(InstrumentError, match="VI_ERROR_TMO"):
        meter.read([1], 1, 0.0)
    bench.clock.wait(5.0)
    bench.known_again(WHERE)
    bench.script(WHERE, ("MEAS:TEMP? (@1)", "20.2"), ("SYST:ERR?", NO_ERROR))
    assert meter.read([1], 1, 0.0).tolist() == [[20.2]]
    assert bench.line(WHERE).opened == 2


def test_on_a_fresh_connection_another_instrument_gives_no_reading(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(WHERE, ("MEAS:TEMP? (@1)", None))
    with pytest.raises(InstrumentError, match="VI_ERROR_TMO"):
        meter.read([1], 1, 0.0)
    for _ in range(2):  # nor when it is asked once more
        bench.known_again(WHERE, "Test bay,meter,X-2,1.0")
        with pytest.raises(InstrumentError, match=r"X-2 answers; .*X-1 was opened; another instrument"):
            meter.read([1], 1, 0.0)


def test_it_tries_again_each_time_until_the_link_is_back(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(WHERE, ("MEAS:TEMP? (@1)", None))
    with pytest.raises(InstrumentError, match="VI_ERROR_TMO"):
        meter.read([1], 1, 0.0)
    bench.unplug(WHERE)
    for _ in range(2):
        with pytest.raises(InstrumentError, match="VI_ERROR_RSRC_NFOUND"):
            meter.read([1], 1, 0.0)
    bench.known_again(WHERE)
    bench.script(WHERE, ("MEAS:TEMP? (@1)", "20.2"), ("SYST:ERR?", NO_ERROR))
    assert meter.read([1], 1, 0.0).tolist() == [[20.2]]
    meter.close()
    with pytest.raises(InstrumentError, match="must be open"):
        meter.read([1], 1, 0.0)


@pytest.mark.parametrize(
    ("inputs", "count", "interval_s"),
    [([], 1, 0.0), ([0], 1, 0.0), ([1, -1], 1, 0.0), ([10000], 1, 0.0), ([1], 0, 0.0), ([1], 1, -1.0)]
    + [([1], 1, bad) for bad in (float("nan"), float("inf"))],
)
def test_senseless_requests_send_nothing(bench: Bench, inputs: list[int], count: int, interval_s: float) -> None:
    meter = opened(bench)
    with pytest.raises(NumberError):
        meter.read(inputs, count, interval_s)


def test_errors_and_close(bench: Bench) -> None:
    meter = opened(bench)
    bench.script(WHERE, ("SYST:ERR?", '-350,"Queue overflow"'), ("SYST:ERR?", NO_ERROR))
    assert meter.errors() == ['-350,"Queue overflow"']
    meter.close()
    meter.close()
    with pytest.raises(InstrumentError, match="must be open"):
        meter.errors()
