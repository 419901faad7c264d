"""Faults of the wire, each on an instrument that answers the same every time."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from rigproof.errors import UsageError
from rigproof_twin import faults
from rigproof_twin.clock import VirtualClock
from rigproof_twin.faults import Fault, FaultyWire
from rigproof_twin.status import Status
from rigproof_twin.wire import Ending, Exchange

BLOCK = b"#216" + np.array([1.0, 2.0], dtype=">f8").tobytes()
REPLIES = {b"*IDN?": b"Test bay,meter,X-1,1.0", b"MEAS?": b"2.5000E+01", b"READ?": BLOCK, b"OUTP?": b"1"}


class Meter:
    """Knows a few messages; its reading rises by 1 with each."""

    def __init__(self, fault: Fault) -> None:
        self.clock, self.status, self.alive, self.busy_until_s = VirtualClock(), Status(), True, 0.0
        self.terminator = b"\n"
        self.wire: FaultyWire | None = FaultyWire(fault)
        self.asked = 0

    def execute(self, message: bytes, message_available: bool) -> tuple[bytes, float]:
        self.asked += 1
        if message == b"MEAS?":
            return b"%.4E" % (24.0 + self.asked), self.clock.now()
        return REPLIES[message], self.clock.now()


def talk(meter: Meter, message: bytes, exchange: Exchange | None = None) -> tuple[bytes, Ending]:
    exchange = exchange or Exchange(meter, bus=False)
    exchange.write(message + b"\n")
    return exchange.read(1000, None if message == b"READ?" else 10, 5.0)


def test_it_strikes_when_and_as_often_as_it_is_told() -> None:
    meter = Meter(Fault(faults.NO_REPLY, after=2, times=3))
    heard = [talk(meter, b"OUTP?")[0] for _ in range(7)]
    assert heard == [b"1\n", b"1\n", b"", b"", b"", b"1\n", b"1\n"]
    assert meter.wire is not None
    assert (meter.wire.counted, meter.wire.struck) == (7, 3)


def test_late() -> None:
    meter = Meter(Fault(faults.LATE, 0, late_s=4.0))
    assert talk(meter, b"OUTP?") == (b"1\n", Ending.STOP)
    assert meter.clock.now() == 4.0
    assert talk(Meter(Fault(faults.LATE, 0, late_s=6.0)), b"OUTP?")[1] is Ending.TIMEOUT


def test_cut_and_garbage_are_never_the_reply() -> None:
    for seed in range(50):
        for kind in (faults.CUT, faults.GARBAGE):
            meter = Meter(Fault(kind, 0, seed=seed))
            assert talk(meter, b"*IDN?")[0] != REPLIES[b"*IDN?"] + b"\n"


def test_stale_gives_the_last_reply_of_its_length() -> None:
    meter = Meter(Fault(faults.STALE, after=1, times=2))
    assert [talk(meter, b"MEAS?")[0] for _ in range(4)] == [
        b"2.5000E+01\n",
        b"2.5000E+01\n",
        b"2.5000E+01\n",
        b"2.8000E+01\n",
    ]


def test_overload_and_wrong_unit_change_numbers_alone() -> None:
    meter = Meter(Fault(faults.OVERLOAD, 0, inf))
    assert talk(meter, b"OUTP?")[0] == b"1\n"
    assert float(talk(meter, b"MEAS?")[0]) == 9.9e37
    meter = Meter(Fault(faults.WRONG_UNIT, 0, inf, factor=1e3))
    assert float(talk(meter, b"MEAS?")[0]) == 25e3
    assert np.frombuffer(talk(meter, b"READ?")[0][4:-1], dtype=">f8").tolist() == [1e3, 2e3]


def test_a_stranger_comes_after_a_break() -> None:
    meter = Meter(Fault(faults.STRANGER, after=1, times=inf))
    line = Exchange(meter, bus=False)
    talk(meter, b"*IDN?", line)
    assert talk(meter, b"MEAS?", line)[1] is Ending.LOST
    assert talk(meter, b"*IDN?")[0] == b"Test bay,meter,another,1.0\n"
    assert float(talk(meter, b"MEAS?")[0]) == 0.0


@pytest.mark.parametrize(("times", "refuses"), [(1, False), (inf, True)])
def test_a_lost_link(times: float, refuses: bool) -> None:
    meter = Meter(Fault(faults.LOST_LINK, 0, times))
    line = Exchange(meter, bus=False)
    assert talk(meter, b"OUTP?", line) == (b"", Ending.LOST)
    asked = meter.asked
    assert talk(meter, b"OUTP?", line) == (b"", Ending.LOST)
    assert meter.asked == asked  # nothing gets through any more
    assert meter.wire is not None
    assert meter.wire.refuses is refuses


def test_a_full_queue() -> None:
    meter = Meter(Fault(faults.QUEUE_FULL, 0))
    assert talk(meter, b"OUTP?")[0] == b"1\n"
    entries = [meter.status.next_error() for _ in range(21)]
    assert entries[19].startswith("-350")
    assert entries[20].startswith("0")


def test_an_unknown_kind() -> None:
    with pytest.raises(UsageError, match="kind='hum': no fault of the wire"):
        Fault("hum", 0)
