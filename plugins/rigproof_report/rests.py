"""A run's time without its long rests: a cure of a day would leave of the readings a sliver."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from rigproof.instruments import FloatArray

from .readings import Series
from .scales import Scale

LONG_S = 1800.0  # so long without a reading is drawn as a break
BREAK = 0.06  # the width of one, of the time that is left
LEAST_MARKED = 40.0  # of the drawing; a stretch of time that is narrower has no marks


@dataclass(frozen=True)
class Rest:
    """A stretch of the run's time in which nothing that is drawn was read."""

    start_s: float
    end_s: float


@dataclass(frozen=True)
class Folding:
    """The run's time with every rest cut down to the same short one."""

    rests: tuple[Rest, ...]
    end_s: float

    @property
    def break_s(self) -> float:
        """What is left of a rest."""
        return BREAK * (self.end_s - sum(rest.end_s - rest.start_s for rest in self.rests)) or 1.0

    def at(self, t_s: FloatArray | float) -> FloatArray:
        """The folded time of a time of the run."""
        real, folded = self._corners()
        return np.asarray(np.interp(t_s, real, folded), dtype=np.float64)

    def series(self, one: Series) -> Series:
        """The same readings at folded times."""
        return Series(one.channel, self.at(one.t_s), one.values)

    def marks(self, x: Scale, per_s: float, about: int = 8) -> tuple[tuple[float, str], ...]:
        """Places and texts on an abscissa of folded time: the run's own time, rests included."""
        return tuple(mark for stretch in self._stretches(x, per_s) for mark in _marks(stretch, about))

    def _corners(self) -> tuple[FloatArray, FloatArray]:
        real, folded = [0.0], [0.0]
        for rest in self.rests:
            start = folded[-1] + rest.start_s - real[-1]
            real += [rest.start_s, rest.end_s]
            folded += [start, start + self.break_s]
        return np.array([*real, self.end_s]), np.array([*folded, folded[-1] + self.end_s - real[-1]])

    def _stretches(self, x: Scale, per_s: float) -> Iterator[Scale]:
        """The times between the rests, each with its own place on the abscissa."""
        real, folded = self._corners()
        for a, b, start, end in zip(real[::2], real[1::2], folded[::2], folded[1::2], strict=True):
            place = x.at(start * per_s), x.at(end * per_s)
            if place[1] - place[0] >= LEAST_MARKED:
                yield Scale(a * per_s, b * per_s, *place)


def _marks(stretch: Scale, about: int) -> tuple[tuple[float, str], ...]:
    return stretch.marks(max(2, round(about * (stretch.end - stretch.start) / 650)))


def folding(found: Mapping[str, Series], end_s: float) -> Folding:
    """The rests of a run that ended at `end_s`: from its start, between readings, and to its end."""
    times = np.unique(np.concatenate([[0.0, end_s], *(one.t_s for one in found.values())]))
    long = np.flatnonzero(np.diff(times) > LONG_S)
    return Folding(tuple(Rest(float(times[i]), float(times[i + 1])) for i in long), end_s)
