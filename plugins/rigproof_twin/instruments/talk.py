"""An instrument that sends a line again and again and hears nothing: its side of a stream."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable

from rigproof_twin.wire import Device, Exchange

MOST_WAITING = 64  # lines that nobody has read; older ones are lost, as in any buffer


class TalkOnly(Exchange):
    """Lines at fixed times of the clock; the first one after connecting is cut, as it was under way."""

    def __init__(self, device: Device, line: Callable[[float], bytes], period_s: float) -> None:
        super().__init__(device, bus=False)
        self._replies = deque(maxlen=MOST_WAITING)
        self._line = line
        self._period_s = period_s
        self._number = math.floor(device.clock.now() / period_s) + 1  # of the line that comes next
        self._cut = True

    def write(self, data: bytes, end: bool = True) -> None:
        """It has no ears."""

    def next_ready(self) -> float | None:
        """When the oldest unread line is, or was, there."""
        if not self._device.alive:
            return None
        due = math.floor(self._device.clock.now() / self._period_s)
        self._number = max(self._number, due + 1 - MOST_WAITING)
        while self._number <= due:
            self._send()
        for _ in range(MOST_WAITING):  # a bad line may let none through
            if self._replies or self.lost:
                break
            self._send()
        return super().next_ready()

    def take_ready(self) -> bytes:
        """All lines that have come."""
        self.next_ready()
        return super().take_ready()

    def now(self) -> bytes:
        """A line at this moment, whenever the next one is due."""
        return self._line(self._device.clock.now()) + self._mark

    def _send(self) -> None:
        """Put the next line into the queue."""
        at_s = self._number * self._period_s
        self._number += 1
        data = self._line(at_s)
        if self._cut:
            data, self._cut = data[(len(data) + 1) // 2 :], False
        self._reply(b"", data, at_s)
