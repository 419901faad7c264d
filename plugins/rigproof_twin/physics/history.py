"""What the part has been through: plastic strain, and what a soft bond has given way by.

Marched over moments that do not depend on who looks when: whole seconds and the kinks of the load. Between two of
them the load is taken as straight, and for a straight load the lag of the bond is exact.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from math import floor
from typing import NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from rigproof.errors import NumberError

FloatArray = npt.NDArray[np.float64]

GRID_S = 1.0


class Load(Protocol):
    """The load as a function of time."""

    def on_part(self, times_s: FloatArray) -> FloatArray:
        """Load (Pa of pressure, N of weights) at ascending times, shape (n,)."""

    def kinks(self, after_s: float, until_s: float) -> list[float]:
        """Moments in (after, until] at which its course breaks, ascending."""


class Strained(NamedTuple):
    """The state at some times, arrays of shape (n,). `lagging_*` follow their namesakes with the bond's time.

    `held_load` follows the load with a play: it stays while the load is less than the play away, and is drawn along at
    that distance; 0 where the part has none.
    """

    times_s: FloatArray
    load: FloatArray
    peak_load: FloatArray  # highest so far
    plastic: FloatArray  # equivalent plastic strain
    lagging_load: FloatArray
    lagging_plastic: FloatArray
    held_load: FloatArray


_Moment = tuple[float, float, float, float, float, float, float]  # the columns of `Strained` at one time


class LoadHistory:
    """The state of the part at any time from now on; virgin and without load at time 0."""

    def __init__(
        self, load: Load, plastic_strain: Callable[[FloatArray], FloatArray], bond_time_s: float, play: float = 0.0
    ) -> None:
        self._load = load
        self._play = play  # half its width, in the unit of the load
        self._plastic_strain = plastic_strain
        self._bond_time_s = bond_time_s
        self._last: _Moment = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        self._whole_step = self._weights_of(GRID_S)

    def at(self, times_s: FloatArray, now_s: float) -> Strained:
        """The state at ascending times (n,), none before `now_s`; later ones: if no command comes in between.

        Raises `NumberError` for times that are past.
        """
        if times_s[0] < now_s:
            raise NumberError(f"time={times_s[0]} s: it is {now_s} s already. Ask for now or later.")
        path = self._march(float(times_s[-1]))
        moments = [moment[0] for moment in path]
        # A command given at this very moment still changes what happens from now on: keep only what is before.
        self._last = path[max(0, bisect_left(moments, now_s) - 1)]
        before = Strained(*np.array(path).T[:, np.searchsorted(moments, times_s, side="right") - 1])
        load = self._load.on_part(times_s)
        peak = np.maximum(before.peak_load, load)
        plastic = self._plastic_strain(peak)
        stays, start, end = self._weights(times_s - before.times_s)
        return Strained(
            times_s,
            load,
            peak,
            plastic,
            stays * before.lagging_load + start * before.load + end * load,
            stays * before.lagging_plastic + start * before.plastic + end * plastic,
            np.clip(before.held_load, load - self._play, load + self._play) if self._play else np.zeros_like(load),
        )

    def _march(self, until_s: float) -> list[_Moment]:
        """The last kept moment and all fixed moments after it, up to `until_s`; in plain numbers, for most are few."""
        path = [self._last]
        since, _, peak, plastic, lagging_load, lagging_plastic, held = self._last
        times = self._moments(since, until_s)
        loads = self._load.on_part(np.array(times)).tolist() if times else []
        for time, load in zip(times, loads, strict=True):
            since, was, _, was_plastic, *_ = path[-1]
            if load > peak:
                peak, plastic = load, float(self._plastic_strain(np.array(load)))
            stays, start, end = self._whole_step if time - since == GRID_S else self._weights_of(time - since)
            lagging_load = stays * lagging_load + start * was + end * load
            lagging_plastic = stays * lagging_plastic + start * was_plastic + end * plastic
            held = min(max(held, load - self._play), load + self._play) if self._play else 0.0
            path.append((time, load, peak, plastic, lagging_load, lagging_plastic, held))
        return path

    def _moments(self, since_s: float, until_s: float) -> list[float]:
        """The fixed moments in (since, until], ascending."""
        whole = [GRID_S * number for number in range(floor(since_s / GRID_S) + 1, floor(until_s / GRID_S) + 1)]
        kinks = self._load.kinks(since_s, until_s)
        return sorted({*whole, *kinks}) if kinks else whole

    def _weights_of(self, length_s: float) -> tuple[float, float, float]:
        stays, start, end = self._weights(np.array(length_s))
        return float(stays), float(start), float(end)

    def _weights(self, length_s: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Weights of y, x at the start and x at the end in the solution of y' = (x - y)/tau with x straight between."""
        length = np.maximum(length_s / self._bond_time_s, 1e-12)
        lost = -np.expm1(-length)
        end = 1.0 - lost / length
        return 1.0 - lost, lost - end, end
