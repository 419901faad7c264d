"""Faults of the wire between a driver and a simulated instrument: what real links do, at a moment that is set.

No flaw of a rig: a fault changes what arrives, never what is. Planted in code by tests, not from the command line,
because nobody accepts a rig with it. A fault counts replies: numbers alone where only a number can be wrong.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import Protocol

import numpy as np

from rigproof.errors import UsageError
from rigproof_twin.status import QUEUE_LENGTH, Status

NO_REPLY = "no reply"
LATE = "late"
CUT = "cut block"
GARBAGE = "garbage"
STALE = "stale value"
OVERLOAD = "overload"
WRONG_UNIT = "wrong unit"
STRANGER = "wrong instrument"
LOST_LINK = "lost link"
QUEUE_FULL = "error queue full"
KINDS = (NO_REPLY, LATE, CUT, GARBAGE, STALE, OVERLOAD, WRONG_UNIT, STRANGER, LOST_LINK, QUEUE_FULL)

_OF_NUMBERS = {OVERLOAD, WRONG_UNIT}
_INFINITY = 9.9e37  # SCPI-1999, volume 1, 7.2.1


class Line(Protocol):
    """What a fault needs of the exchange it sits on."""

    lost: bool

    @property
    def status(self) -> Status:
        """The instrument's own."""


@dataclass(frozen=True)
class Fault:
    """What happens to the replies of one instrument: `times` of them in a row, after the first `after` that count.

    Raises `UsageError` for a kind that is none of `KINDS`.
    """

    kind: str
    after: int
    times: float = 1  # inf: it stays
    late_s: float = 60.0  # a late reply comes so much later
    factor: float = 1e-5  # of a wrong unit
    overload: float = _INFINITY  # what stands for it
    seed: int = 0  # of garbage, and of where a reply is cut

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise UsageError(f"kind={self.kind!r}: no fault of the wire is called so; choose one of {', '.join(KINDS)}")


class FaultyWire:
    """One fault at work on one instrument, over all its connections."""

    def __init__(self, fault: Fault) -> None:
        self.fault = fault
        self.counted = 0  # replies so far that the fault counts
        self.struck = 0  # replies it has changed
        self._rng = np.random.default_rng(fault.seed)
        self._before: dict[tuple[bytes, int], bytes] = {}  # the last reply to a message, by its length
        self._do: dict[str, Callable[[Line, bytes, bytes], bytes]] = {
            NO_REPLY: lambda _line, _message, _reply: b"",
            LATE: lambda _line, _message, reply: reply,
            CUT: self._cut,
            GARBAGE: self._garbage,
            STALE: lambda _line, message, reply: self._before.get((message, len(reply)), reply),
            OVERLOAD: lambda _line, _message, reply: _numbers(reply, lambda _: self.fault.overload),
            WRONG_UNIT: lambda _line, _message, reply: _numbers(reply, lambda value: value * self.fault.factor),
            STRANGER: self._stranger,
            LOST_LINK: self._hang_up,
            QUEUE_FULL: self._fill_queue,
        }

    @property
    def refuses(self) -> bool:
        """True where nobody can connect any more."""
        return self.fault.kind == LOST_LINK and self.fault.times == inf and self.struck > 0

    def reply(self, line: Line, message: bytes, reply: bytes, ready_s: float) -> tuple[bytes, float]:
        """What comes of a reply (with its terminator), and when; b"" where nothing does."""
        body = reply[:-1]
        if self.fault.kind in _OF_NUMBERS and not _is_numbers(body):
            return reply, ready_s
        number, self.counted = self.counted, self.counted + 1
        known = (message, len(reply)) in self._before
        if not self.fault.after <= number < self.fault.after + self.fault.times or (
            self.fault.kind == STALE and not known  # there is nothing old to give
        ):
            self._before[message, len(reply)] = reply
            return reply, ready_s
        self.struck += 1
        return self._do[self.fault.kind](line, message, reply), ready_s + self.fault.late_s * (self.fault.kind == LATE)

    def _cut(self, _line: Line, _message: bytes, reply: bytes) -> bytes:
        """The end of a reply is missing, with its terminator or, as on a serial line that lost bytes, before it."""
        return reply[: self._rng.integers(0, len(reply) - 1)] + b"\n" * int(self._rng.integers(0, 2))

    def _garbage(self, _line: Line, _message: bytes, reply: bytes) -> bytes:
        """As many bytes, none of them meant; half the time the frame of a block and the terminator are right."""
        frame = 2 + int(reply[1:2]) if reply[:1] == b"#" and self._rng.integers(0, 2) else 0
        return reply[:frame] + self._rng.bytes(len(reply) - frame - 1) + b"\n"

    def _stranger(self, line: Line, message: bytes, reply: bytes) -> bytes:
        """After a break in the link another instrument of the kind answers; nothing is connected to it."""
        if self.fault.after and self.struck == 1:
            line.lost = True
            return b""
        if message.strip().upper().startswith(b"*IDN"):
            maker, model, *_, firmware = reply[:-1].split(b",")
            return b",".join((maker, model, b"another", firmware)) + b"\n"
        return _numbers(reply, lambda _: 0.0) if _is_numbers(reply[:-1]) else reply

    @staticmethod
    def _hang_up(line: Line, _message: bytes, _reply: bytes) -> bytes:
        line.lost = True
        return b""

    @staticmethod
    def _fill_queue(line: Line, _message: bytes, reply: bytes) -> bytes:
        for _ in range(QUEUE_LENGTH + 1):
            line.status.report(-222)
        return reply


def _is_numbers(body: bytes) -> bool:
    """True for a block and for decimal numbers with commas between; a state or register is none, it has no unit."""
    return body.startswith(b"#") or (b"." in body and all(_number(part) is not None for part in body.split(b",")))


def _number(text: bytes) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _numbers(reply: bytes, change: Callable[[float], float]) -> bytes:
    """The same reply with every number changed."""
    body = reply[:-1]
    if body.startswith(b"#"):
        frame = 2 + int(body[1:2])
        values = np.frombuffer(body[frame:], dtype=">f8")
        return body[:frame] + np.array([change(v) for v in values.tolist()], dtype=">f8").tobytes() + b"\n"
    return b",".join(f"{change(float(part)):.9E}".encode("ascii") for part in body.split(b",")) + b"\n"
