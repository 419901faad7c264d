"""The twin's clock for a process in which other threads serve the bench."""

from __future__ import annotations

from datetime import datetime

from rigproof_twin.registry import Bench


class SharedClock:
    """The clock of a bench, under its lock; a `rigproof.clock.Clock`."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def now(self) -> float:
        """Seconds since the start."""
        with self._bench.lock:
            return self._bench.clock.now()

    def wait(self, seconds: float) -> None:
        """Let time pass, at once."""
        with self._bench.lock:
            self._bench.clock.wait(seconds)

    def utc(self) -> datetime:
        """Date and time of the twin."""
        with self._bench.lock:
            return self._bench.clock.utc()
