"""Figures of a calibration series of a force transducer, each with its budget.

Definitions in own words after ISO 376:2011, 7 and 8 (from memory). Deflection X is the output less that at the zero
before its series. X1 and X2 are increasing series in one position, X3, X5, … increasing and X4, X6, … decreasing ones
in the others, X_N the deflection at the top, mean of the positions.

    reproducibility  b  = (largest - smallest of X1, X3, X5) / their mean      at one force
    repeatability    b' = (X2 - X1) / their mean
    interpolation    fc = (mean of X1, X3, X5 - fitted curve) / fitted curve
    reversibility    v  = mean over the positions of |X4 - X3| / X3, |X6 - X5| / X5
    zero             f0 = (zero after a series - zero before it) / X_N
    creep            c  = (output later - output soon after a change of force) / X_N

Deflections are compared at equal force: a small difference of force is taken out with the channel's own slope. Figures
that have no sign by definition get that of the readings, so that a budget stays straight near 0.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import copysign

import numpy as np

from rigproof.documents.rig import Rig
from rigproof.instruments import FloatArray
from rigproof.models import Numbers
from rigproof.quantities import kind_of
from rigproof.uncertainty import fit_polynomial_through_origin

from .checks import value_of
from .record import Block
from .terms import Term, change, combine, predicted_output, raw_unit, usable

Candidates = list[tuple[Term, str]]  # a figure wherever it can be looked at, and where that is


@dataclass(frozen=True)
class Series:
    """The readings of one channel. Series count from 1, levels from 1 to `top`; `to` is the force at the top (N)."""

    rig: Rig
    name: str
    load: str  # the channel that measures the force
    zeros: Mapping[tuple[int, str], Block]  # by series, and before or after it
    levels: Mapping[tuple[int, int, str], Block]  # by series, level and direction
    creep: Mapping[tuple[str, str], Block]  # by load or unload, and soon or late; ("load", "before") is its zero
    top: int
    count: int  # of series; those after the second have a decreasing branch
    to: float
    degree: int

    @property
    def usable(self) -> bool:
        """False where a reading of the channel or of the force is missing."""
        blocks = (*self.zeros.values(), *self.levels.values(), *self.creep.values())
        return all(usable(block[name]) for block in blocks for name in (self.name, self.load))

    @property
    def positions(self) -> tuple[int, ...]:
        """The increasing series that stand for one position each: 1, 3, 4, …"""
        return (1, *range(3, self.count + 1))

    def force(self, level: int) -> float:
        """Nominal force of a level, N."""
        return self.to * level / self.top

    @cached_property
    def slope(self) -> float:
        """Output per force (V/V per N) at nominal values, for taking small differences of force out."""
        top, zero = self.levels[1, self.top, "up"], self.zeros[1, "before"]
        rise = {name: float(np.mean(top[name]) - np.mean(zero[name])) for name in (self.name, self.load)}
        return rise[self.name] / rise[self.load]

    def deflection(self, series: int, level: int, direction: str = "up") -> Term:
        """X at the nominal force of a level, V/V."""
        where = (series, level, direction)
        if where not in self._known:
            label = f"series {series} level {level} {direction}"
            zero = self.zeros[series, "before"]
            self._known[where] = self.at_force(
                self.levels[where], zero, label, f"zero of series {series}", self.force(level)
            )
        return self._known[where]

    @cached_property
    def _known(self) -> dict[tuple[int, int, str], Term]:
        """What `deflection` has made: several figures look at the same level."""
        return {}

    def at_force(self, now: Block, zero: Block, label: str, zero_label: str, force: float) -> Term:
        """Change of output from `zero` to `now`, moved to a change of `force` (N)."""
        slope = self.slope

        def moved(output: Numbers, load: Numbers) -> Numbers:
            return output - slope * (load - force)

        output, load = (
            change(self.rig.channels[name], now[name], zero[name], label, unit, zero_label)
            for name, unit in (
                (self.name, raw_unit(self.rig.channels[self.name])),
                (self.load, kind_of(self.rig.part.load).base),
            )
        )
        return combine(moved, output, load)

    def mean(self, level: int) -> Term:
        """Mean deflection of the increasing series of all positions."""
        return combine(_mean, *(self.deflection(series, level) for series in self.positions))

    def expected_top(self) -> Term:
        """Output at the top by the part model, V/V."""
        return predicted_output(self.rig, self.name, Term(lambda: self.to, ()))


def figures(series: Series) -> dict[str, Candidates]:
    """All figures, each wherever it can be looked at."""
    levels = range(1, series.top + 1)
    return {
        "reproducibility": [_reproducibility(series, level) for level in levels],
        "repeatability": [_repeatability(series, level) for level in levels],
        "interpolation": _interpolation(series),
        "reversibility": [_reversibility(series, level) for level in levels[:-1]],
        "zero": [_zero(series, number) for number in range(1, series.count + 1)],
        "creep": [_creep(series, after) for after in ("load", "unload")],
    }


def hat_matrix(forces: FloatArray, degree: int) -> FloatArray:
    """What each deflection does to the curve at each force, shape (n, n): the fit is linear in what is fitted."""
    units = np.eye(len(forces))
    fits = [fit_polynomial_through_origin(forces, unit, degree) for unit in units]
    return np.array([[fit.at(force).value for fit in fits] for force in forces])


def _mean(*values: Numbers) -> Numbers:
    return sum(values) / len(values)


def _at(series: Series, level: int) -> str:
    return f"level {level} of {series.top}"


def _spread(high: Term, low: Term, *averaged: Term) -> Term:
    """(high - low) / mean of those averaged."""

    def figure(a: Numbers, b: Numbers, *others: Numbers) -> Numbers:
        return (a - b) / _mean(*others)

    return combine(figure, high, low, *averaged)


def _reproducibility(series: Series, level: int) -> tuple[Term, str]:
    found = {number: series.deflection(number, level) for number in series.positions}
    order = sorted(found, key=lambda number: abs(value_of(found[number])))
    low, high = order[0], order[-1]
    return _spread(found[high], found[low], *found.values()), f"{_at(series, level)}, series {high} and {low}"


def _repeatability(series: Series, level: int) -> tuple[Term, str]:
    first, second = (series.deflection(number, level) for number in (1, 2))
    return _spread(second, first, first, second), _at(series, level)


def _interpolation(series: Series) -> Candidates:
    levels = range(1, series.top + 1)
    means = [series.mean(level) for level in levels]
    rows = hat_matrix(np.array([series.force(level) for level in levels]), series.degree)
    return [(_from_curve(means, row, number), _at(series, number + 1)) for number, row in enumerate(rows)]


def _from_curve(means: Iterable[Term], row: FloatArray, number: int) -> Term:
    """(mean - curve) / curve at one of the forces."""

    def figure(*deflections: Numbers) -> Numbers:
        fitted: Numbers = sum(share * deflection for share, deflection in zip(row.tolist(), deflections, strict=True))
        return deflections[number] / fitted - 1.0

    return combine(figure, *means)


def _reversibility(series: Series, level: int) -> tuple[Term, str]:
    pairs = [
        (series.deflection(number, level, "down"), series.deflection(number, level)) for number in series.positions[1:]
    ]
    signs = [copysign(1.0, value_of(down) / value_of(up) - 1.0) for down, up in pairs]

    def figure(*deflections: Numbers) -> Numbers:
        downs, ups = deflections[::2], deflections[1::2]
        return _mean(*(sign * (down / up - 1.0) for sign, down, up in zip(signs, downs, ups, strict=True)))

    return combine(figure, *(term for pair in pairs for term in pair)), _at(series, level)


def _zero(series: Series, number: int) -> tuple[Term, str]:
    before, after = series.zeros[number, "before"], series.zeros[number, "after"]
    label = f"zero after series {number}"
    left = series.at_force(after, before, label, f"zero of series {number}", 0.0)
    return combine(lambda zero, top: zero / top, left, series.mean(series.top)), f"series {number}"


def _creep(series: Series, after: str) -> tuple[Term, str]:
    soon, late = series.creep[after, "soon"], series.creep[after, "late"]
    crept = series.at_force(late, soon, f"creep after {after}", f"soon after {after}", 0.0)
    return combine(lambda change, top: change / top, crept, series.mean(series.top)), f"after {after}ing"
