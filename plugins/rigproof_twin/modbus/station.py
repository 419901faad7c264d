"""The units behind one resource, and their frames over TCP (MODBUS Messaging on TCP/IP V1.0b, 3.1.3, from memory)."""

from __future__ import annotations

import struct
from collections.abc import Mapping

from rigproof.errors import UsageError
from rigproof_twin.modbus.protocol import answer
from rigproof_twin.modbus.tables import GATEWAY_TARGET_SILENT
from rigproof_twin.modbus.unit import SimulatedUnit

HEADER = 7  # bytes: transaction, protocol 0, length of what follows, unit
LONGEST = 254  # of unit and request


class Station:
    """A host, or a serial line, with one or several units. Not guarded: the caller holds the lock of the bench."""

    def __init__(self) -> None:
        self._units: dict[int, SimulatedUnit] = {}

    @property
    def units(self) -> Mapping[int, SimulatedUnit]:
        """The units by their id."""
        return self._units

    def add(self, name: str, unit: SimulatedUnit) -> None:
        """Put a unit on the line; `UsageError` when its id is taken."""
        if unit.number in self._units:
            raise UsageError(f"instrument {name}: unit id={unit.number}: another unit there has it. Give another.")
        self._units[unit.number] = unit

    def take(self, received: bytearray) -> bytes | None:
        """The next whole frame, taken out of what was received; None while it is not whole.

        ValueError for bytes that are no frame: such a connection is best closed.
        """
        if len(received) < HEADER:
            return None
        _, protocol, length = struct.unpack(">HHH", received[:6])
        if protocol != 0 or not 2 <= length <= LONGEST:
            raise ValueError(f"protocol {protocol}, length {length}")
        if len(received) < 6 + length:
            return None
        frame = bytes(received[: 6 + length])
        del received[: 6 + length]
        return frame

    def execute(self, frame: bytes) -> tuple[bytes, float]:
        """Carry out a frame: its reply (b"" for none) and how long that takes, in seconds."""
        number, request = frame[6], frame[HEADER:]
        unit = self._units.get(number)
        if unit is None:
            return _framed(frame, bytes([request[0] | 0x80, GATEWAY_TARGET_SILENT])), 0.0
        if not unit.alive:
            return b"", 0.0
        return _framed(frame, answer(unit, request)), unit.appearance.latency_s


def _framed(frame: bytes, reply: bytes) -> bytes:
    return frame[:4] + struct.pack(">H", len(reply) + 1) + frame[6:7] + reply
