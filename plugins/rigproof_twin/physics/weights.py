"""Dead weights on a part: what hangs there, as a closed form of time."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from rigproof.clock import Clock

FloatArray = npt.NDArray[np.float64]

PLACING_S = 2.0  # from touching the pan to resting on it
AIR_KG_PER_M3 = 1.2
IRON_KG_PER_M3 = 7850.0


class DeadWeights:
    """Weights by mark (kg) in a local gravity (m/s²); a `rigproof_twin.physics.history.Load` in newtons."""

    def __init__(self, clock: Clock, masses_kg: Mapping[str, float], gravity: float) -> None:
        self._clock = clock
        self._forces_n = {mark: weight_n(mass, gravity) for mark, mass in masses_kg.items()}
        self._times_s, self._loads_n = [0.0], [0.0]
        self.on: set[str] = set()

    def move(self, mark: str, put_on: bool) -> None:
        """Put a weight on or take it off, from now on; one that is there already stays."""
        if put_on == (mark in self.on):
            return
        (self.on.add if put_on else self.on.discard)(mark)
        start = max(self._clock.now(), self._times_s[-1])
        self._times_s += [start, start + PLACING_S]
        self._loads_n += [self._loads_n[-1], sum(self._forces_n[each] for each in sorted(self.on))]

    def on_part(self, times_s: FloatArray) -> FloatArray:
        """Force (N) at ascending times, shape (n,); later than now: if nobody moves a weight in between."""
        return np.interp(times_s, self._times_s, self._loads_n)

    def kinks(self, after_s: float, until_s: float) -> list[float]:
        """Moments in (after, until] at which the force breaks its course, ascending."""
        return sorted({moment for moment in self._times_s if after_s < moment <= until_s})


def weight_n(mass_kg: float, gravity: float) -> float:
    """Force (N) of iron hanging in air: its weight less that of the air it displaces."""
    displaced_kg = AIR_KG_PER_M3 * mass_kg / IRON_KG_PER_M3
    return (mass_kg - displaced_kg) * gravity
