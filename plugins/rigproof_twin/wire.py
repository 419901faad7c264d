"""The exchange of messages between a controller and one instrument (IEEE 488.2-1992, 6), on the bench's clock.

On a *bus* (GPIB, USB, VXI-11, HiSLIP) messages carry END, one exchange serves the instrument, and unread replies are
lost when the next message comes (-410). A *stream* (raw socket, serial line) is bytes only: LF ends a message, replies
queue up one after the other until they are read, and each connection has its own. Where an instrument has another
terminator than LF, that one stands for LF here.
"""

from __future__ import annotations

from collections import deque
from enum import Enum
from math import inf
from typing import Protocol

from rigproof_twin.clock import VirtualClock
from rigproof_twin.faults import FaultyWire
from rigproof_twin.status import Status

LF = b"\n"
INPUT_LIMIT = 65_536  # bytes of one program message
OUTPUT_LIMIT = 8_388_608  # bytes of replies nobody has read


class Ending(Enum):
    """Why a read came back."""

    END = 0  # the message is complete
    STOP = 1  # the stop byte was read
    COUNT = 2  # as many bytes as wanted; there may be more
    TIMEOUT = 3  # patience ran out; bytes that came are given, and lost for the next read
    LOST = 4  # the connection is gone


class Device(Protocol):
    """What an exchange needs of an instrument."""

    clock: VirtualClock
    status: Status
    alive: bool
    wire: FaultyWire | None  # a fault on its line; None: a sound one
    busy_until_s: float  # when it will be done with what it was told
    terminator: bytes  # what ends its messages and replies; empty: END alone, on a bus

    def execute(self, message: bytes, message_available: bool) -> tuple[bytes, float]:
        """Carry out one program message: its reply without terminator (b"" for none) and when that is ready (s)."""


class Exchange:
    """Input buffer and output queue. Not guarded against threads: the caller holds the lock of the bench."""

    def __init__(self, device: Device, bus: bool) -> None:
        self._device = device
        self._bus = bus
        self.ends = bus  # a read ends where a reply ends
        self._input = b""
        self._unanswered = b""  # the last message, as long as no reply to it came
        self._overrun = False
        self._replies: deque[tuple[float, bytes]] = deque()  # when ready (s on the clock), bytes with LF
        self.lost = False  # this connection is gone; a new one may hold
        self.silence = ""  # why the last read timed out, in one sentence

    def write(self, data: bytes, end: bool = True) -> None:
        """Take bytes from the controller; `end`: END comes with the last one (a stream has none to send)."""
        if not self._device.alive or self.lost:
            return
        if self._bus and self._replies and data.strip():
            self._interrupted()
        mark = self._mark
        if end and self._bus and not data.endswith(mark):
            data += mark
        *messages, self._input = (self._input + data).split(mark) if self._input else data.split(mark)
        for message in messages:
            self._take(message)
        if len(self._input) > INPUT_LIMIT:
            self._overflow()
            self._input = b""

    def greet(self, line: bytes) -> None:
        """Send a line, without its terminator, that nobody asked for."""
        self._reply(b"", line, self._device.clock.now())

    def read(self, count: int, stop: int | None, patience_s: float) -> tuple[bytes, Ending]:
        """Up to `count` bytes, up to and with the byte `stop`; lets time pass until they are ready, or `patience_s`.

        Where `ends`, so does the end of a reply; where several endings coincide, END comes before STOP before COUNT.
        """
        clock = self._device.clock
        started_s = clock.now()
        taken = b""
        while (ready_s := self.next_ready()) is not None and ready_s - started_s <= patience_s:
            if ready_s > clock.now():
                clock.wait(ready_s - clock.now())
                continue  # the instrument may have died on the way
            data = self._replies[0][1]
            piece, rest, ending = _cut(data, count - len(taken), stop)
            if rest:
                self._replies[0] = (ready_s, rest)
            else:
                self._replies.popleft()
                if self.ends:
                    ending = Ending.END
            taken = taken + piece if taken else piece
            if ending:
                return taken, ending
        if self.lost:
            self.silence = "the link is lost"
            return taken, Ending.LOST
        return self._time_out(started_s, taken, patience_s)

    @property
    def status(self) -> Status:
        """What the instrument tells about itself."""
        return self._device.status

    def next_ready(self) -> float | None:
        """When the oldest unread reply is, or was, ready (s on the clock); None when there is none to come."""
        return self._replies[0][0] if self._replies and self._device.alive else None

    def take_ready(self) -> bytes:
        """Take all replies that are ready now, as a stream brings them without being asked."""
        ready = []
        while self._replies and self._replies[0][0] <= self._device.clock.now() and self._device.alive:
            ready.append(self._replies.popleft()[1])
        return b"".join(ready)

    def status_byte(self) -> int:
        """The status byte as a serial poll reads it; MAV tells of a reply that is ready."""
        ready_s = self.next_ready()
        return self._device.status.byte(ready_s is not None and ready_s <= self._device.clock.now())

    def clear(self) -> None:
        """Device clear (IEEE 488.2, 5.8): forget input, replies and what is going on; settings and errors stay."""
        self._input = b""
        self._overrun = False
        self._replies.clear()
        self._device.busy_until_s = self._device.clock.now()

    @property
    def _mark(self) -> bytes:
        """What ends a message here, whether or not END does."""
        return self._device.terminator or LF

    @property
    def _reply_mark(self) -> bytes:
        """What ends a reply here."""
        return self._device.terminator if self._bus else self._mark

    def _take(self, message: bytes) -> None:
        """Carry out one complete message."""
        if len(message) > INPUT_LIMIT:
            self._overflow()
        if self._overrun:  # the tail of a message that was too long
            self._overrun = False
            return
        self._unanswered = message
        reply, ready_s = self._device.execute(message, bool(self._replies))
        if not reply:
            return
        if sum(len(data) for _, data in self._replies) + len(reply) > OUTPUT_LIMIT:
            self._replies.clear()
            self._device.status.report(-430)
            return
        self._reply(message, reply, ready_s)

    def _reply(self, message: bytes, reply: bytes, ready_s: float) -> None:
        """Put a reply into the queue, with its terminator and as its line lets it through."""
        reply += LF
        if self._device.wire is not None:
            reply, ready_s = self._device.wire.reply(self, message, reply, ready_s)
            if self.lost:
                self._replies.clear()
        if reply.endswith(LF):
            reply = reply[:-1] + self._reply_mark
        if reply:
            self._unanswered = b""
            self._replies.append((ready_s, reply))

    def _overflow(self) -> None:
        """A message is too long; it is dropped up to its end."""
        if not self._overrun:
            self._device.status.report(-363)
        self._overrun = True

    def _interrupted(self) -> None:
        """A new message came before the reply was read (IEEE 488.2, 6.3.2.3)."""
        self._replies.clear()
        self._device.busy_until_s = self._device.clock.now()
        self._device.status.report(-410)

    def _time_out(self, started_s: float, taken: bytes, patience_s: float) -> tuple[bytes, Ending]:
        """Wait in vain, and say why."""
        clock = self._device.clock
        ready_s = self.next_ready()
        if not self._device.alive:
            self.silence = "the instrument is dead"
        elif ready_s is not None:
            self.silence = f"the reply is {ready_s - started_s:.6g} s away, the timeout is {patience_s:.6g} s"
        elif taken:
            self.silence = f"{len(taken)} bytes came, but neither their number nor a stop byte ended the read"
        else:
            wanted = {LF: "LF", b"\r": "CR"}.get(self._mark, "CR LF")
            self.silence = f"no reply came to {self._unanswered!r}" if self._unanswered else "nothing was asked"
            self.silence += f"; {len(self._input)} bytes wait for {wanted}" if self._input else ""
            if self._bus:
                self._device.status.report(-420)
        if patience_s < inf:  # a controller without a timeout would hang here for ever; it is told at once
            clock.wait(max(0.0, started_s + patience_s - clock.now()))
        return taken, Ending.TIMEOUT


def _cut(data: bytes, count: int, stop: int | None) -> tuple[bytes, bytes, Ending | None]:
    """The piece of `data` that a read takes, the rest, and what ended it (None: nothing yet)."""
    size, ending = (count, Ending.COUNT) if len(data) >= count else (len(data), None)
    if stop is not None:
        found = data.find(stop, 0, size)
        if found >= 0:
            size, ending = found + 1, Ending.STOP
    return data[:size], data[size:], ending
