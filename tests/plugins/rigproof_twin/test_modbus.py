"""The twin's Modbus side: the requests and replies printed in the standard, exceptions, frames, simulated units.

Examples of the MODBUS Application Protocol Specification V1.1b3, clause 6, from memory: request and reply by bytes.
"""

from __future__ import annotations

import socket
import struct
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from rigproof.documents import Rig, load_rig
from rigproof.errors import UsageError
from rigproof.plugins import Registry
from rigproof_twin.interface import Appearance, Deviation
from rigproof_twin.modbus import SimulatedUnit, Station, build
from rigproof_twin.modbus.numbers import Place
from rigproof_twin.modbus.protocol import answer
from rigproof_twin.modbus.tables import Cell, Tables
from rigproof_twin.registry import Bench
from rigproof_twin.serve import HOST, Server
from rigproof_twin.still import StillWorld

from .modbus_rig import RIG


def plain(**tables: dict[int, int]) -> Any:
    """A unit that remembers: values by table and address."""
    unit = SimpleNamespace(tables=Tables(), objects={})
    for table, values in tables.items():
        for address in values:

            def write(new: Any, held: dict[int, int] = values, at: int = address) -> None:
                held[at] = new[0]

            def read(held: dict[int, int] = values, at: int = address) -> list[int]:
                return [held[at]]

            unit.tables.add(Cell(Place(table, address), 1, read, write if table in {"coil", "holding"} else None))
    return unit


def bits(first: int, packed: str, count: int) -> dict[int, int]:
    number = int.from_bytes(bytes.fromhex(packed), "little")
    return {first + place: number >> place & 1 for place in range(count)}


def test_read_coils_20_to_38() -> None:
    unit = plain(coil=bits(19, "CD 6B 05", 19))
    assert answer(unit, bytes.fromhex("01 0013 0013")) == bytes.fromhex("01 03 CD 6B 05")


def test_read_discrete_inputs_197_to_218() -> None:
    unit = plain(discrete=bits(196, "AC DB 35", 22))
    assert answer(unit, bytes.fromhex("02 00C4 0016")) == bytes.fromhex("02 03 AC DB 35")


def test_read_holding_registers_108_to_110() -> None:
    unit = plain(holding={107: 0x022B, 108: 0, 109: 0x0064})
    assert answer(unit, bytes.fromhex("03 006B 0003")) == bytes.fromhex("03 06 022B 0000 0064")


def test_read_input_register_9() -> None:
    assert answer(plain(input={8: 10}), bytes.fromhex("04 0008 0001")) == bytes.fromhex("04 02 000A")


def test_write_coil_173_on() -> None:
    coils = {172: 0}
    request = bytes.fromhex("05 00AC FF00")
    assert answer(plain(coil=coils), request) == request
    assert coils == {172: 1}


def test_write_register_2() -> None:
    holding = {1: 0}
    request = bytes.fromhex("06 0001 0003")
    assert answer(plain(holding=holding), request) == request
    assert holding == {1: 3}


def test_write_ten_coils_from_20() -> None:
    coils = dict.fromkeys(range(19, 29), 0)
    assert answer(plain(coil=coils), bytes.fromhex("0F 0013 000A 02 CD 01")) == bytes.fromhex("0F 0013 000A")
    assert list(coils.values()) == [1, 0, 1, 1, 0, 0, 1, 1, 1, 0]


def test_write_registers_2_and_3() -> None:
    holding = {1: 0, 2: 0}
    assert answer(plain(holding=holding), bytes.fromhex("10 0001 0002 04 000A 0102")) == bytes.fromhex("10 0001 0002")
    assert holding == {1: 10, 2: 258}


def test_device_identification() -> None:
    unit = plain()
    unit.objects = {0: b"Company identification", 1: b"Product code ", 2: b"V2.11"}
    expected = bytes.fromhex("2B 0E 01 83 00 00 03 00 16") + b"Company identification\x01\x0dProduct code \x02\x05V2.11"
    assert answer(unit, bytes.fromhex("2B 0E 01 00")) == expected
    assert answer(unit, bytes.fromhex("2B 0E 04 02")) == bytes.fromhex("2B 0E 04 83 00 00 01 02 05") + b"V2.11"
    assert answer(unit, bytes.fromhex("2B 0E 04 05")) == bytes.fromhex("AB 02")
    assert answer(unit, bytes.fromhex("2B 0E 05 00")) == bytes.fromhex("AB 03")


def test_an_identification_too_long_for_one_reply_goes_on() -> None:
    unit = plain()
    unit.objects = {0: b"a" * 120, 1: b"b" * 120, 2: b"c"}
    first = answer(unit, bytes.fromhex("2B 0E 01 00"))
    assert first[4:7] == bytes.fromhex("FF 02 02")
    assert answer(unit, bytes.fromhex("2B 0E 01 02"))[4:] == bytes.fromhex("00 00 01 02 01") + b"c"


@pytest.mark.parametrize(
    ("request_", "reply"),
    [
        ("01 04A1 0001", "81 02"),  # the example of clause 7: coil 1185 does not exist
        ("07", "87 01"),
        ("2B 0E 01 00", "AB 01"),  # this unit has no identification
        ("03 0000 0000", "83 03"),
        ("03 0000 007E", "83 03"),  # 126 registers
        ("01 0000 07D1", "81 03"),  # 2001 coils
        ("03 0000 0003", "83 02"),  # the third is not there
        ("03 FFFF 0002", "83 02"),
        ("03 0000", "83 03"),
        ("05 0000 0001", "85 03"),
        ("05 0009 FF00", "85 02"),
        ("06 0000 0001 00", "86 03"),
        ("0F 0000 0002 02 03 00", "8F 03"),  # two bytes for two coils
        ("10 0000 0002 02 0001", "90 03"),
        ("10 0000 007C F8" + "00" * 248, "90 03"),  # 124 registers
        ("10 0001 0002 04 0001 0002", "90 02"),
    ],
)
def test_exceptions(request_: str, reply: str) -> None:
    unit = plain(holding={0: 1, 1: 2}, coil={0: 0, 1: 0})
    assert answer(unit, bytes.fromhex(request_)) == bytes.fromhex(reply)
    assert answer(unit, bytes.fromhex("03 0000 0002")) == bytes.fromhex("03 04 0001 0002")  # nothing was written


# -- units ------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def rig(registry: Registry) -> Rig:
    return load_rig(text=RIG, registry=registry)


@pytest.fixture
def world() -> StillWorld:
    return StillWorld(temperatures_c={2: 20.0})


Unit = Callable[..., SimulatedUnit]


@pytest.fixture
def unit(rig: Rig, world: StillWorld) -> Unit:
    def make(name: str, **look: Any) -> SimulatedUnit:
        appearance = Appearance("Test bay", "T 60", "P-0220", "simulated", **look)
        return build(rig, rig.instruments[name], world, appearance, np.random.default_rng(1))

    return make


def asked(unit: SimulatedUnit, request: str) -> str:
    return answer(unit, bytes.fromhex(request)).hex()


def test_a_meter_shows_what_there_is(unit: Unit, world: StillWorld) -> None:
    meter = unit("transmitter", upper=60e5)
    world.source.enabled, world.source.target_pa = True, 35.75e5
    assert asked(meter, "04 0000 0003") == "0406" + "420f0000" + "07d0"  # 35.75 in IEEE 754; 20.00 °C
    world.source.target_pa = 61e5
    world.temperatures_c.clear()
    assert asked(meter, "04 0000 0003") == "0406" + "7fc00000" + "7fff"  # overload: not-a-number, and the map's word
    assert asked(meter, "04 0001 0001") == "04020000"  # half a number is a number's half
    assert asked(meter, "04 0003 0001") == "8402"
    assert asked(meter, "06 0000 0001") == "8602"  # input registers are not written


def test_a_meter_departs_from_the_truth(unit: Unit, world: StillWorld) -> None:
    meter = unit("transmitter", deviations={2: Deviation(offset=0.5)})
    assert asked(meter, "04 0002 0001") == "0402" + f"{2050:04x}"


def test_a_pump_follows_its_coils(unit: Unit, world: StillWorld) -> None:
    pump, source = unit("pump", upper=60e5), world.source
    assert asked(pump, "01 0000 0002") == "010102"  # pump off, vent open
    low_first = struct.pack(">f", 25.0)[2:] + struct.pack(">f", 25.0)[:2]
    assert asked(pump, f"10 0000 0003 06 {low_first.hex()} 012C") == "1000000003"
    assert [source.target_pa, source.rate_pa_per_s] == pytest.approx([25e5, 30e5 / 60])
    asked(pump, "05 0000 FF00")
    followed = [source.enabled]  # the vent is still open
    asked(pump, "05 0001 0000")
    followed.append(source.enabled)
    assert asked(pump, "02 0001 0001") == "020101"
    source.busy = True
    assert asked(pump, "04 0005 0003") == "0406" + "0000" + f"{25000:08x}"
    source.busy = False
    assert asked(pump, "04 0005 0001") == "0402" + "0008"
    asked(pump, "06 0009 0055")
    assert not source.connected
    assert asked(pump, "06 0009 0001") == "8603"
    asked(pump, "05 0001 FF00")
    assert [*followed, source.enabled] == [False, True, False]
    asked(pump, "05 0000 0000")
    assert asked(pump, "02 0001 0001") == "020100"


def test_a_pump_refuses_what_it_cannot(unit: Unit, world: StillWorld) -> None:
    pump = unit("pump", upper=60e5)
    high = struct.pack(">f", 61.0)
    assert asked(pump, f"10 0000 0002 04 {(high[2:] + high[:2]).hex()}") == "9003"
    assert asked(pump, "06 0000 0001") == "8602"  # half a number
    assert world.source.target_pa == 0.0


# -- frames -----------------------------------------------------------------------------------------------------------


@pytest.fixture
def port(unit: Unit, world: StillWorld) -> Iterator[int]:
    station = Station()
    for name in ("transmitter", "pump"):
        station.add(name, unit(name, latency_s=0.25))
    server = Server(Bench(world.clock, {}, {"tcp://192.0.2.20": station}), stations_only=True)
    yield server.ports["tcp://192.0.2.20"]
    server.close()


@pytest.mark.network
def test_frames_over_tcp(port: int, world: StillWorld) -> None:
    with socket.create_connection((HOST, port), timeout=5.0) as connection:
        asked_for = "0001 0000 0006 03 04 0002 0001 0002 0000 0006 04 02 0001 0001 0003 0000 0006 09 04 0002 0001"
        data = bytes.fromhex(asked_for)
        connection.sendall(data[:5])
        connection.sendall(data[5:])
        expected = bytes.fromhex("0001 0000 0005 03 04 02 07D0 0002 0000 0004 04 02 01 00 0003 0000 0003 09 84 0B")
        received = b""
        while len(received) < len(expected):
            received += connection.recv(100)
        assert received == expected
    assert world.clock.now() == 0.5  # the latency of two units; the third is not there


@pytest.mark.network
@pytest.mark.parametrize(
    "nonsense", [b"*IDN?\n*IDN?\n", b"\x00\x01\x00\x00\x00\x01\x01", b"\x00\x01\x00\x00\xff\xff\x01"]
)
def test_what_is_no_frame_ends_the_connection(port: int, nonsense: bytes) -> None:
    with socket.create_connection((HOST, port), timeout=5.0) as connection:
        connection.sendall(nonsense)
        assert connection.recv(100) == b""


def test_two_units_of_one_id(unit: Unit) -> None:
    station = Station()
    station.add("one", unit("pump"))
    with pytest.raises(UsageError, match="instrument two: unit id=4: another unit there has it"):
        station.add("two", unit("pump"))
    station.units[4].alive = False
    assert station.execute(bytes.fromhex("0001 0000 0006 04 04 0005 0001"))[0] == b""
