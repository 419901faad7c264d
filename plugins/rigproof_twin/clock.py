"""The twin's time: it stands still until somebody lets it pass, so that a simulated hour costs nothing."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

from rigproof.errors import NumberError

STARTS = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)  # where the twin's document names no date


class VirtualClock:
    """A clock that moves only by `wait`; a `rigproof.clock.Clock`.

    Not guarded against threads: whoever shares it holds the lock of the bench.
    """

    def __init__(self, starts: datetime = STARTS) -> None:
        if starts.tzinfo is None:
            raise NumberError(f"starts={starts.isoformat()}: the clock needs a time zone. Write it with Z, in UTC.")
        self._starts = starts.astimezone(UTC)
        self._now_s = 0.0

    def now(self) -> float:
        """Seconds since the start."""
        return self._now_s

    def wait(self, seconds: float) -> None:
        """Let `seconds` pass, at once.

        Raises `NumberError` unless 0 <= seconds < inf.
        """
        if not 0.0 <= seconds < math.inf:
            raise NumberError(f"seconds={seconds}: time passes forwards by a finite amount. Give 0 or more.")
        self._now_s += seconds

    def utc(self) -> datetime:
        """Date and time of the twin, UTC, to the microsecond."""
        return self._starts + timedelta(seconds=self._now_s)
