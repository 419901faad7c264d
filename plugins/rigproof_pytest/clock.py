"""The kit's time: real time goes on, and a wait costs none of it, so that an hour of readings is tested at once."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta


class KitClock:
    """A `rigproof.clock.Clock` that counts every wait; a simulated instrument may wait on it, too, from its thread."""

    def __init__(self) -> None:
        self._waited_s = 0.0
        self._lock = threading.Lock()
        self._started = datetime.now(UTC)

    def now(self) -> float:
        """Seconds: what has passed for real, and all waits."""
        with self._lock:
            return time.monotonic() + self._waited_s

    def waited(self) -> float:
        """Seconds of all waits: what no load of the machine can stretch."""
        with self._lock:
            return self._waited_s

    def wait(self, seconds: float) -> None:
        """Let `seconds` (>= 0) pass, at once."""
        with self._lock:
            self._waited_s += max(0.0, seconds)

    def utc(self) -> datetime:
        """When the clock was made, and all waits."""
        with self._lock:
            return self._started + timedelta(seconds=self._waited_s)
