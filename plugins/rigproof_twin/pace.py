"""Who moves the clock of a bench that is served: the wall clock, until a client takes it over."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from rigproof_twin.registry import Bench


class Pace:
    """Lets the bench's clock follow the wall clock, and from `steer` on leaves it to `wait` and to what queries cost.

    Every method takes the lock of the bench; `until` gives it up while it waits.
    """

    def __init__(self, bench: Bench, wall: Callable[[], float] = time.monotonic, steered: bool = False) -> None:
        self._clock = bench.clock
        self._changed = threading.Condition(bench.lock)
        self._wall = wall
        self._followed_s = wall()
        self.steered = steered
        self._stopped = False

    def catch_up(self) -> None:
        """Let the time pass that has passed on the wall."""
        with self._changed:
            now_s = self._wall()
            if not self.steered:
                self._clock.wait(max(0.0, now_s - self._followed_s))
            self._followed_s = now_s

    def steer(self) -> None:
        """From now on time passes on demand only."""
        with self._changed:
            self.catch_up()
            self.steered = True
            self._changed.notify_all()

    def until(self, at_s: float) -> bool:
        """Return when the clock shows `at_s`: wait for the wall clock, or move it there when it is steered.

        False when `stop` came first.
        """
        with self._changed:
            while not self._stopped:
                self.catch_up()
                left_s = at_s - self._clock.now()
                if left_s <= 0.0:
                    return True
                if self.steered:
                    self._clock.wait(left_s)
                    return True
                self._changed.wait(left_s)
            return False

    def beat(self, at_s: float, wall_s: float = 0.005) -> bool:
        """As `until`, but a steered clock is left alone: `wall_s` pass on the wall instead."""
        with self._changed:
            if self.steered and not self._stopped:
                self._changed.wait(wall_s)
            return not self._stopped if self.steered else self.until(at_s)

    def wait(self, seconds: float) -> float:
        """Let `seconds` pass at once; the time then. `NumberError` unless 0 <= seconds < inf."""
        with self._changed:
            self._clock.wait(seconds)
            return self._clock.now()

    def stop(self) -> None:
        """Hold nobody up any more."""
        with self._changed:
            self._stopped = True
            self._changed.notify_all()
