"""How often something may be shown: a few at once, and no more than some a second over time."""

from __future__ import annotations

import time
from collections.abc import Callable


class Cadence:
    """Counts in real time, also where the run's own clock jumps."""

    def __init__(self, per_s: float = 4.0, at_once: int = 4, now: Callable[[], float] = time.monotonic) -> None:
        self._per_s, self._at_once, self._now = per_s, at_once, now
        self._left, self._then = float(at_once), now()

    @property
    def ready(self) -> bool:
        """Whether one more may be shown now."""
        now = self._now()
        self._left = min(self._at_once, self._left + (now - self._then) * self._per_s)
        self._then = now
        return self._left >= 1.0

    def take(self) -> None:
        """One was shown; one that could not wait puts off no more than the next."""
        self._left = max(0.0, self._left - 1.0)
