"""A press as closed forms of time: a steady rate to the target, a short run past it, and a servo that holds.

Each command starts a new stroke; a stroke gives the force at any time after its start, so that it cannot matter when or
how often somebody looks.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from math import copysign

import numpy as np
import numpy.typing as npt

from rigproof.clock import Clock
from rigproof.errors import NumberError

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Stroke:
    """Straight from start to turn, exponential from there to the end."""

    start_s: float
    start_n: float
    turn_s: float
    turn_n: float
    end_n: float
    time_constant_s: float

    def at(self, times_s: FloatArray) -> FloatArray:
        """Force (N) at times none of which is before the start; same shape."""
        share = np.minimum((times_s - self.start_s) / max(self.turn_s - self.start_s, 1e-12), 1.0)
        straight = self.start_n + (self.turn_n - self.start_n) * share
        left = np.exp(np.minimum((self.turn_s - times_s) / self.time_constant_s, 0.0))
        return np.where(times_s < self.turn_s, straight, self.end_n + (self.turn_n - self.end_n) * left)


class Press:
    """Ram and servo; a `rigproof_twin.interface.WorldPress` and a `rigproof_twin.physics.history.Load`.

    `overshoot` is a share of the target. The ram lets go with `retract_s` when it is not enabled: the safe state.
    """

    def __init__(self, clock: Clock, time_constant_s: float, overshoot: float, retract_s: float) -> None:
        self._clock = clock
        self._time_constant_s = time_constant_s
        self._overshoot = overshoot
        self._retract_s = retract_s
        self.enabled = False
        self.target_n = 0.0
        self.rate_n_per_s = 100.0
        now = clock.now()
        self._strokes = [Stroke(now, 0.0, now, 0.0, 0.0, retract_s)]

    def set_rate(self, n_per_s: float) -> None:
        """Change the rate (> 0), also of a movement under way; `NumberError` otherwise."""
        if not 0.0 < n_per_s < np.inf:
            raise NumberError(f"rate={n_per_s} N/s: a rate of force is above 0. Give a positive one.")
        if n_per_s != self.rate_n_per_s:
            self.rate_n_per_s = n_per_s
            self._drive()

    def set_target(self, newton: float) -> None:
        """Set the target (>= 0); move there if enabled. `NumberError` otherwise."""
        if not 0.0 <= newton < np.inf:
            raise NumberError(f"target={newton} N: the press pushes one way. Give 0 or more.")
        if newton != self.target_n:
            self.target_n = newton
            self._drive()

    def enable(self, on: bool) -> None:
        """Let the ram follow the target, or let go."""
        if on == self.enabled:
            return
        self.enabled = on
        if on:
            self._drive()
        else:
            now, force = self._clock.now(), self.force_n()
            self._begin(Stroke(now, force, now, force, 0.0, self._retract_s))

    def settling(self) -> bool:
        """True until the force is near the target to stay; False while not enabled."""
        last = self._strokes[-1]
        moving = self._clock.now() < last.turn_s or abs(self.force_n() - last.end_n) > self._near_n
        return self.enabled and moving

    def force_n(self) -> float:
        """Force on the part, now."""
        return float(self.on_part(np.array([self._clock.now()]))[0])

    def on_part(self, times_s: FloatArray) -> FloatArray:
        """Force (N) at ascending times, shape (n,); later than now: if no command comes in between."""
        starts = [stroke.start_s for stroke in self._strokes]
        ruling = np.searchsorted(starts, times_s, side="right") - 1
        values = np.empty_like(times_s)
        for index in np.unique(ruling):
            chosen = ruling == index
            values[chosen] = self._strokes[index].at(times_s[chosen])
        return values

    def kinks(self, after_s: float, until_s: float) -> list[float]:
        """Moments in (after, until] at which the force breaks its course, ascending."""
        first = max(0, bisect_right([stroke.start_s for stroke in self._strokes], after_s) - 1)
        moments = {moment for stroke in self._strokes[first:] for moment in (stroke.start_s, stroke.turn_s)}
        return sorted(moment for moment in moments if after_s < moment <= until_s)

    @property
    def _near_n(self) -> float:
        """How close to its target the press says that it is there."""
        return 1.0 + 1e-5 * self.target_n

    def _drive(self) -> None:
        """Start from where the ram is now towards the target, if it follows it."""
        if not self.enabled:
            return
        now, force = self._clock.now(), self.force_n()
        way = self.target_n - force
        turn = self.target_n + copysign(self._overshoot * self.target_n, way) if abs(way) > self._near_n else force
        turn_s = now + abs(turn - force) / self.rate_n_per_s
        self._begin(Stroke(now, force, turn_s, turn, self.target_n, self._time_constant_s))

    def _begin(self, stroke: Stroke) -> None:
        """From now on this stroke rules; one that was begun at the same moment never did."""
        if self._strokes[-1].start_s == stroke.start_s:
            self._strokes.pop()
        self._strokes.append(stroke)
