"""What the part has been through: plastic strain, and what a soft bond has given way by.

Marched over moments that do not depend on who looks when: whole seconds and the kinks of the load. Between two of
them the load is taken as straight, and for a straight load the lag of the bond is exact.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from math import floor
from typing import Protocol

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


@dataclass(frozen=True)
class Strained:
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

    def take(self, index: npt.NDArray[np.intp] | slice) -> Strained:
        """The states chosen by `index`."""
        return Strained(*(getattr(self, column.name)[index] for column in fields(self)))


class LoadHistory:
    """The state of the part at any time from now on; virgin and without load at time 0."""

    def __init__(
        self, load: Load, plastic_strain: Callable[[FloatArray], FloatArray], bond_time_s: float, play: float = 0.0
    ) -> None:
        self._load = load
        self._play = play  # half its width, in the unit of the load
        self._plastic_strain = plastic_strain
        self._bond_time_s = bond_time_s
        self._last = Strained(*np.zeros((7, 1)))

    def at(self, times_s: FloatArray, now_s: float) -> Strained:
        """The state at ascending times (n,), none before `now_s`; later ones: if no command comes in between.

        Raises `NumberError` for times that are past.
        """
        if times_s[0] < now_s:
            raise NumberError(f"time={times_s[0]} s: it is {now_s} s already. Ask for now or later.")
        path = self._march(float(times_s[-1]))
        # A command given at this very moment still changes what happens from now on: keep only what is before.
        kept = max(0, int(np.searchsorted(path.times_s, now_s, side="left")) - 1)
        self._last = path.take(slice(kept, kept + 1))
        before = path.take(np.searchsorted(path.times_s, times_s, side="right") - 1)
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

    def _march(self, until_s: float) -> Strained:
        """The last kept moment and all fixed moments after it, up to `until_s`."""
        last = self._last
        since = float(last.times_s[0])
        whole: FloatArray = GRID_S * np.arange(floor(since / GRID_S) + 1, floor(until_s / GRID_S) + 1, dtype=np.float64)
        kinks = self._load.kinks(since, until_s)
        times: FloatArray = np.union1d(whole, np.array(kinks, dtype=np.float64)) if kinks else whole
        if times.size == 0:
            return last
        times = np.concatenate([last.times_s, times])
        load = np.concatenate([last.load, self._load.on_part(times[1:])])
        peak = np.maximum.accumulate(np.maximum(load, last.peak_load))
        plastic = self._plastic_strain(peak)
        stays, start, end = self._weights(np.diff(times))
        lagging_load = _follow(last.lagging_load, stays, start * load[:-1] + end * load[1:])
        lagging_plastic = _follow(last.lagging_plastic, stays, start * plastic[:-1] + end * plastic[1:])
        held = _hold(load, float(last.held_load[0]), self._play) if self._play else np.zeros_like(load)
        return Strained(times, load, peak, plastic, lagging_load, lagging_plastic, held)

    def _weights(self, length_s: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Weights of y, x at the start and x at the end in the solution of y' = (x - y)/tau with x straight between."""
        length = np.maximum(length_s / self._bond_time_s, 1e-12)
        lost = -np.expm1(-length)
        end = 1.0 - lost / length
        return 1.0 - lost, lost - end, end


def _follow(first: FloatArray, stays: FloatArray, added: FloatArray) -> FloatArray:
    """y[i+1] = stays[i] y[i] + added[i], from y[0] = `first` (shape (1,))."""
    value = float(first[0])
    values = [value]
    for share, more in zip(stays.tolist(), added.tolist(), strict=True):
        value = share * value + more
        values.append(value)
    return np.array(values)


def _hold(load: FloatArray, first: float, play: float) -> FloatArray:
    """The load behind a play of half width `play`, from `first` on."""
    held = first
    values = []
    for pushed in load.tolist():
        held = min(max(held, pushed - play), pushed + play)
        values.append(held)
    return np.array(values)
