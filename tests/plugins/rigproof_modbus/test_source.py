"""Nothing moves before its settings are read back, and the safe state is reached from any state."""

from __future__ import annotations

import math
import struct
from collections.abc import Callable
from typing import Any

import pytest

from rigproof.errors import InstrumentError, NumberError, Stopped

from .conftest import Scripted, source, words

pytestmark = pytest.mark.network
Start = Callable[..., Scripted]
Place = tuple[str, int]
READS = {1: "coil", 2: "discrete", 3: "holding"}
STOP, VENT = ("coil", 0), ("coil", 1)


class Device:
    """A little pump station behind a scripted peer: what is written is noted in order; some of it may not take."""

    def __init__(self, start: Start) -> None:
        self.values: dict[Place, int] = {STOP: 0, VENT: 1, ("coil", 2): 1, ("discrete", 0): 1}
        self.values |= {("holding", address): 0 for address in range(4)}
        self.written: list[tuple[Place, int]] = []
        self.stuck: set[Place] = set()
        self.refuses: set[Place] = set()
        self.silent = 0  # how many requests from now on get no reply
        self.deaf = 0  # how many are not even carried out
        self.before: Callable[[bytes], None] = lambda request: None
        self.peer = start(*[self._answer] * 500)

    def _answer(self, request: bytes) -> bytes | None:
        self.before(request)
        if self.deaf > 0:
            self.deaf -= 1
            return None
        reply = self._carried_out(request[7], request[8:])
        if self.silent > 0:
            self.silent -= 1
            return None
        return request[:4] + struct.pack(">HB", len(reply) + 1, request[6]) + reply

    def _carried_out(self, function: int, data: bytes) -> bytes:
        address, value = struct.unpack(">HH", data[:4])
        if function in READS:
            values = [self.values[READS[function], address + i] for i in range(value)]
            if function == 3:
                return struct.pack(f">BB{value}H", 3, 2 * value, *values)
            return bytes([function, 1, values[0]])
        table = "coil" if function == 5 else "holding"
        if (table, address) in self.refuses:
            return bytes([function | 0x80, 3])
        new = (
            list(struct.unpack(f">{value}H", data[5:]))
            if function == 16
            else [int(value > 0) if function == 5 else value]
        )
        for offset, word in enumerate(new):
            self.written.append(((table, address + offset), word))
            if (table, address + offset) not in self.stuck:
                self.values[table, address + offset] = word
        return bytes([function]) + data[:4]

    def number(self, address: int) -> float:
        data = struct.pack(">HH", self.values["holding", address], self.values["holding", address + 1])
        return float(struct.unpack(">f", data)[0])

    def is_safe(self) -> bool:
        return (self.values[STOP], self.values[VENT]) == (0, 1)


@pytest.fixture
def device(scripted: Start) -> Device:
    return Device(scripted)


def running(device: Device, timeout_s: float = 0.2) -> Any:
    pump = source(device.peer.resource, timeout_s)
    pump.open()
    pump.rise_to(10e5, 0.5e5)
    assert not device.is_safe()
    device.written.clear()
    return pump


def test_rate_and_target_come_before_the_pump_and_the_vent_shuts_first(device: Device) -> None:
    pump = source(device.peer.resource)
    pump.rise_to(35.75e5, 0.5e5)
    assert [place for place, _ in device.written] == [
        *[("holding", 2), ("holding", 3), ("holding", 0), ("holding", 1)],
        *[VENT, STOP],
    ]
    assert (device.number(0), device.number(2)) == (35.75, 30.0)
    functions = [request[7] for request in device.peer.requests]
    assert functions == [16, 3, 16, 3, 5, 1, 5, 1]


@pytest.mark.parametrize("place", [("holding", 0), ("holding", 2)])
@pytest.mark.parametrize("how", ["stuck", "refuses"])
def test_a_setting_that_does_not_take_starts_nothing(device: Device, place: Place, how: str) -> None:
    getattr(device, how).add(place)
    pump = source(device.peer.resource)
    said = "was wanted; stay within" if how == "stuck" else "exception 3, illegal data value"
    with pytest.raises(InstrumentError, match=said):
        pump.rise_to(35.75e5, 0.5e5)
    assert device.is_safe()
    assert not any(place[0] == "coil" for place, _ in device.written)


@pytest.mark.parametrize("stuck", [STOP, VENT])
def test_an_enable_that_does_not_take(device: Device, stuck: Place) -> None:
    device.stuck.add(stuck)
    with pytest.raises(InstrumentError, match=r"read back coil [01] .*; look for a fault on the source"):
        source(device.peer.resource).rise_to(35.75e5, 0.5e5)


@pytest.mark.parametrize("target", [math.nan, math.inf])
@pytest.mark.parametrize("rate", [1.0, 0.0, -1.0, math.nan, math.inf])
def test_senseless_loads_send_nothing(device: Device, target: float, rate: float) -> None:
    with pytest.raises(NumberError, match="rate_per_s"):
        source(device.peer.resource).rise_to(target if rate == 1.0 else 0.0, rate)
    assert device.peer.requests == []


@pytest.mark.parametrize(
    ("at", "target", "sent"),
    [
        ({"type": "int16", "scale": "0.01"}, 35.75e5, 3575),
        ({"type": "int16", "scale": "0.01"}, 8.3333e5, 833),  # half a step, and 0.04 %
        ({"type": "uint16", "scale": "0.01"}, 0.0, 0),
        ({"type": "int16", "scale": "1"}, 3.575e5, None),  # 4 bar is not 3.575 bar
        ({"type": "int16", "scale": "0.001"}, 35.75e5, None),  # would not fit
        ({"type": "uint16", "scale": "0.01"}, -1e5, None),
    ],
)
def test_a_target_that_the_register_cannot_hold_is_not_written(
    device: Device, at: dict[str, str], target: float, sent: int | None
) -> None:
    whole = {"table": "holding", "address": "0", "unit": "bar"} | at
    pump = source(device.peer.resource, target=whole)
    if sent is None:
        with pytest.raises(InstrumentError, match=r"set target .*(correct scale or type|word order and scale)"):
            pump.rise_to(target, 0.5e5)
        assert device.is_safe()
        assert not any(place == ("holding", 0) for place, _ in device.written)
    else:
        pump.rise_to(target, 0.5e5)
        assert device.values["holding", 0] == sent


def test_settled_by_bit_and_by_closeness(device: Device) -> None:
    device.values["holding", 10], device.values["holding", 11] = words(">f", 0.0)
    near = {"table": "holding", "address": "10", "type": "float32", "word order": "high first", "unit": "bar"}
    pump = source(device.peer.resource, actual=near, settled_within="0.1 bar")
    assert not pump.settled()  # nothing was asked for yet
    pump.rise_to(20e5, 0.5e5)
    assert not pump.settled()  # the bit still stands from before: the pressure tells
    device.values["holding", 10], device.values["holding", 11] = words(">f", 19.95)
    assert pump.settled()
    device.values["discrete", 0] = 0
    assert not pump.settled()
    device.values["discrete", 0] = 1
    device.values["holding", 10], device.values["holding", 11] = words(">f", float("nan"))
    assert not pump.settled()
    device.values["holding", 10], device.values["holding", 11] = words(">f", 25.0)[::-1]
    with pytest.raises(InstrumentError, match=r"e-41 as float32, high first; .*correct .*`word order:`$"):
        pump.settled()


def test_isolate(device: Device) -> None:
    pump = source(device.peer.resource)
    pump.isolate(True)
    assert device.values["coil", 2] == 0
    device.stuck.add(("coil", 2))
    with pytest.raises(InstrumentError, match="look for a stuck valve"):
        pump.isolate(False)
    with pytest.raises(InstrumentError, match="has no `valve`"):
        source(device.peer.resource, valve=None).isolate(True)


def test_go_safe_twice_before_open_and_after_close(device: Device) -> None:
    pump = running(device)
    for _ in range(2):
        pump.go_safe()
        assert device.is_safe()
    pump.close()
    device.values[STOP], device.values[VENT] = 1, 0
    assert not pump.is_safe()
    pump.go_safe()
    assert device.is_safe()


@pytest.mark.parametrize("lost", [1, 2])
@pytest.mark.parametrize("how", ["silent", "deaf"])
def test_go_safe_while_replies_are_lost(device: Device, how: str, lost: int) -> None:
    pump = running(device)
    setattr(device, how, lost)
    pump.go_safe()
    assert device.is_safe()


def test_the_last_word_comes_first_where_replies_are_in_doubt(device: Device) -> None:
    """After a silent exchange both writes go out at once on the old connection; then a fresh one confirms."""
    pump = running(device)
    device.silent = 1
    with pytest.raises(InstrumentError):
        pump.settled()
    before = device.peer.connections
    pump.go_safe()
    assert device.is_safe()
    assert device.peer.connections == before + 1
    # the peer takes the two connections in threads of their own, and may see the old one closed before its second write
    assert device.written[0] == (STOP, 0)
    assert {(STOP, 0), (VENT, 1)} == set(device.written)
    assert len(device.written) >= 3


def test_go_safe_after_a_stop_in_the_middle_of_an_exchange(device: Device, monkeypatch: pytest.MonkeyPatch) -> None:
    pump = running(device)
    line = pump._unit._line
    receive = line._client.recv

    def stop(size: int | None) -> bytes:
        monkeypatch.setattr(line._client, "recv", receive)
        raise Stopped("Ctrl-C")

    monkeypatch.setattr(line._client, "recv", stop)
    with pytest.raises(Stopped):
        pump.settled()
    pump.go_safe()
    assert device.is_safe()
    assert pump.is_safe()


def test_one_refused_write_does_not_keep_the_others_back(device: Device) -> None:
    pump = running(device)
    device.refuses.add(STOP)
    with pytest.raises(InstrumentError, match=r"write 0 to coil 0 .*exception 3"):
        pump.go_safe()
    assert device.values[VENT] == 1


def test_a_pump_that_will_not_stop_is_told(device: Device) -> None:
    pump = running(device)
    device.stuck.add(STOP)
    with pytest.raises(InstrumentError, match=r"read back coil 0 .*: it reads 1; .*take the load off"):
        pump.go_safe()
    assert not pump.is_safe()


def test_a_feedback_that_contradicts_the_command_is_not_safe(device: Device) -> None:
    """The coil takes its 0, and the motor contactor's own contact still says that the pump runs."""
    device.values["discrete", 5] = 1
    stop = {"table": "coil", "address": "0", "value": "0"}
    contact = {"table": "discrete", "address": "5", "equals": "0"}
    pump = source(device.peer.resource, safe_state=[stop | {"reads back": contact}])
    with pytest.raises(InstrumentError, match="read back discrete 5 "):
        pump.go_safe()
    device.values["discrete", 5] = 0
    pump.go_safe()
    assert pump.is_safe()


def test_go_safe_with_nobody_there(device: Device) -> None:
    pump = running(device)
    device.deaf = 500
    with pytest.raises(InstrumentError, match="no whole reply"):
        pump.go_safe()
