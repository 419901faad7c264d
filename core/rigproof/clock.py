"""Time as the tool sees it: injected everywhere, so that a simulated hour costs nothing and drivers never sleep."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta
from typing import Protocol

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Clock(Protocol):
    """What drivers, steps and the journal know of time."""

    def now(self) -> float:
        """Seconds since an arbitrary start; never runs backwards."""

    def wait(self, seconds: float) -> None:
        """Let `seconds` (>= 0) pass."""

    def utc(self) -> datetime:
        """Date and time, UTC."""


class WallClock:
    """The real clock. Waiting can be cut short by a signal handler that raises."""

    def __init__(self) -> None:
        self._never = threading.Event()

    def now(self) -> float:
        """Seconds of the machine's monotonic clock."""
        return time.monotonic()

    def wait(self, seconds: float) -> None:
        """Wait for real."""
        self._never.wait(max(0.0, seconds))

    def utc(self) -> datetime:
        """The machine's date and time."""
        return datetime.now(UTC)


class JumpingClock:
    """A clock on which waiting costs nothing: for a rehearsal on paper, and for a record that is replayed."""

    def __init__(self, starts: datetime = EPOCH) -> None:
        self._starts = starts
        self._now_s = 0.0

    def now(self) -> float:
        """Seconds since the start."""
        return self._now_s

    def wait(self, seconds: float) -> None:
        """Jump."""
        self._now_s += max(0.0, seconds)

    def utc(self) -> datetime:
        """Date and time, counted from the start that was given."""
        return self._starts + timedelta(seconds=self._now_s)


class PacedClock:
    """Another clock whose waits take real time, too, `pace` times less: for a simulated run that one can watch."""

    def __init__(self, clock: Clock, pace: float) -> None:
        self._clock, self._pace, self._wall = clock, pace, WallClock()

    def now(self) -> float:
        """Of the other clock."""
        return self._clock.now()

    def wait(self, seconds: float) -> None:
        """Let the other clock wait, and wait for real."""
        self._clock.wait(seconds)
        self._wall.wait(seconds / self._pace)

    def utc(self) -> datetime:
        """Of the other clock."""
        return self._clock.utc()
