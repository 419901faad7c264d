"""A dry joint or a corroded plug: a contact that is there, gone, and there again, by chance."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

STAYS_S = 5.0  # mean time in either state; contacts are named with 0.01 to 10 changes a second, no source


class BadJoint:
    """A random telegraph: `ohm` or nothing, each for an exponentially distributed time. Whole at time 0.

    The changes are drawn in order and kept, so that it cannot matter when or how often somebody looks.
    """

    def __init__(self, ohm: float, rng: np.random.Generator) -> None:
        self._ohm = ohm
        self._rng = rng
        self._changes_s = np.zeros(1)

    def at(self, times_s: FloatArray) -> FloatArray:
        """Added resistance (Ω) at times, same shape."""
        while self._changes_s[-1] <= times_s[-1]:
            more = self._rng.exponential(STAYS_S, 100)
            self._changes_s = np.concatenate([self._changes_s, self._changes_s[-1] + np.cumsum(more)])
        passed = np.searchsorted(self._changes_s, times_s, side="right")
        return np.where(passed % 2 == 0, self._ohm, 0.0)
