"""Requests and replies (MODBUS Application Protocol V1.1b3, 6 and 7, from memory): functions 1 to 6, 15, 16, 43/14."""

from __future__ import annotations

import struct
from collections.abc import Callable

from rigproof_twin.modbus.tables import ILLEGAL_ADDRESS, ILLEGAL_FUNCTION, ILLEGAL_VALUE, ModbusException
from rigproof_twin.modbus.unit import SimulatedUnit

READS = {1: "coil", 2: "discrete", 3: "holding", 4: "input"}
MOST_BITS, MOST_WORDS = 2000, 125
MOST_BITS_WRITTEN, MOST_WORDS_WRITTEN = 1968, 123
ON, OFF = 0xFF00, 0x0000
DEVICE_IDENTIFICATION = 14  # MEI type
BASIC, REGULAR, EXTENDED, ONE = 1, 2, 3, 4
CONFORMITY = 0x83  # extended identification, as a stream and one by one


def answer(unit: SimulatedUnit, request: bytes) -> bytes:
    """The reply to a request, both without their frame: function code and data."""
    function, data = request[0], request[1:]
    try:
        if function not in FUNCTIONS:
            raise ModbusException(ILLEGAL_FUNCTION)
        return bytes([function]) + FUNCTIONS[function](unit, function, data)
    except ModbusException as exception:
        return bytes([function | 0x80, exception.code])


def _pair(data: bytes, exact: bool = True) -> tuple[int, int]:
    if len(data) < 4 or (exact and len(data) > 4):
        raise ModbusException(ILLEGAL_VALUE)
    first, second = struct.unpack(">HH", data[:4])
    return int(first), int(second)


def _read(unit: SimulatedUnit, function: int, data: bytes) -> bytes:
    address, count = _pair(data)
    values = _read_values(unit, READS[function], address, count, MOST_BITS if function < 3 else MOST_WORDS)
    if function >= 3:
        return struct.pack(f">B{count}H", 2 * count, *values)
    packed = sum(bool(value) << place for place, value in enumerate(values))
    return bytes([(count + 7) // 8]) + packed.to_bytes((count + 7) // 8, "little")


def _read_values(unit: SimulatedUnit, table: str, address: int, count: int, most: int) -> list[int]:
    if not 1 <= count <= most:
        raise ModbusException(ILLEGAL_VALUE)
    return unit.tables.read(table, address, count)


def _write_coil(unit: SimulatedUnit, _function: int, data: bytes) -> bytes:
    address, value = _pair(data)
    if value not in {ON, OFF}:
        raise ModbusException(ILLEGAL_VALUE)
    unit.tables.write("coil", address, [int(value == ON)])
    return data


def _write_register(unit: SimulatedUnit, _function: int, data: bytes) -> bytes:
    address, value = _pair(data)
    unit.tables.write("holding", address, [value])
    return data


def _write_coils(unit: SimulatedUnit, _function: int, data: bytes) -> bytes:
    address, count = _pair(data, exact=False)
    size = (count + 7) // 8
    if not 1 <= count <= MOST_BITS_WRITTEN or data[4:5] != bytes([size]) or len(data) != 5 + size:
        raise ModbusException(ILLEGAL_VALUE)
    packed = int.from_bytes(data[5:], "little")
    unit.tables.write("coil", address, [packed >> place & 1 for place in range(count)])
    return data[:4]


def _write_registers(unit: SimulatedUnit, _function: int, data: bytes) -> bytes:
    address, count = _pair(data, exact=False)
    if not 1 <= count <= MOST_WORDS_WRITTEN or data[4:5] != bytes([2 * count]) or len(data) != 5 + 2 * count:
        raise ModbusException(ILLEGAL_VALUE)
    unit.tables.write("holding", address, struct.unpack(f">{count}H", data[5:]))
    return data[:4]


def _identify(unit: SimulatedUnit, _function: int, data: bytes) -> bytes:
    """Device identification (6.21): all objects of a level from one on, or a single one."""
    if not unit.objects or data[:1] != bytes([DEVICE_IDENTIFICATION]):
        raise ModbusException(ILLEGAL_FUNCTION)
    if len(data) != 3 or data[1] not in {BASIC, REGULAR, EXTENDED, ONE}:
        raise ModbusException(ILLEGAL_VALUE)
    code, first = data[1], data[2]
    last = {BASIC: 2, REGULAR: 0x7F, EXTENDED: 0xFF, ONE: first}[code]
    if code == ONE and first not in unit.objects:
        raise ModbusException(ILLEGAL_ADDRESS)
    begin = first if first in unit.objects else 0  # an object that is not there begins the stream anew
    chosen = [number for number in sorted(unit.objects) if begin <= number <= last]
    taken, room = b"", 253 - 7
    for place, number in enumerate(chosen):
        item = bytes([number, len(unit.objects[number])]) + unit.objects[number]
        if len(taken) + len(item) > room:
            return bytes([DEVICE_IDENTIFICATION, code, CONFORMITY, 0xFF, number, place]) + taken
        taken += item
    return bytes([DEVICE_IDENTIFICATION, code, CONFORMITY, 0, 0, len(chosen)]) + taken


FUNCTIONS: dict[int, Callable[[SimulatedUnit, int, bytes], bytes]] = {
    **dict.fromkeys(READS, _read),
    5: _write_coil,
    6: _write_register,
    15: _write_coils,
    16: _write_registers,
    43: _identify,
}
