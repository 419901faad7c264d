"""What the true value may differ by from the measured one: E = true - measured, as a distribution that decides.

Guard bands (JCGM 106, 8.3) are distances; a pair is (at the lower limit, at the upper limit), in the unit of the value.
`width` is the distance of the tolerance limits, inf when one side is open.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, Self

import numpy as np

from rigproof.errors import NumberError
from rigproof.uncertainty.distributions import coverage_factor, t_cdf, t_density, t_quantile
from rigproof.uncertainty.montecarlo import interval
from rigproof.uncertainty.sampling import FloatArray

Bands = tuple[float, float]


class Law(Protocol):
    """A distribution of E; `u` is its standard uncertainty."""

    @property
    def u(self) -> float:
        """Standard uncertainty, in the unit of the value."""

    def between(self, lower: float, upper: float) -> float:
        """Probability that E lies from `lower` to `upper`, limits included; either may be infinite."""

    def acceptance_bands(self, risk: float, width: float) -> Bands:
        """Guard bands inside a tolerance: on an acceptance limit the true value fails with probability `risk`.

        When no measured value would be sure enough, bands that together are wider than `width`.
        """

    def rejection_bands(self, risk: float, width: float) -> Bands:
        """Guard bands outside a tolerance: a true value on a limit is measured beyond either with probability `risk`.

        No other conforming value is rejected as often. The conformance probability on a rejection limit is `risk` or,
        when the tolerance is narrow, less: there it is small even in the middle, where no value must be rejected.
        """

    def coverage(self, coverage: float) -> Bands:
        """Both ends of the probabilistically symmetric interval that holds E with probability `coverage`."""

    def scaled(self, factor: float) -> Self:
        """The same shape with a standard uncertainty `factor` times as large."""


@dataclass(frozen=True, slots=True)
class Student:
    """Scaled t distribution about 0, normal for dof = inf (JCGM 101, 6.4.9); u = 0 is certainty."""

    u: float
    dof: float = math.inf

    def __post_init__(self) -> None:
        if not (math.isfinite(self.u) and self.u >= 0):
            raise NumberError(f"u={self.u!r}: a standard uncertainty must be finite and >= 0")
        if not self.dof > 0:
            raise NumberError(f"dof={self.dof!r}: degrees of freedom must be > 0 (inf when u is well known)")

    def between(self, lower: float, upper: float) -> float:
        """Probability of lower <= E <= upper."""
        if self.u == 0:
            return 1.0 if lower <= 0 <= upper else 0.0
        # From the nearer limit's tail, so that small probabilities keep their digits far outside.
        near, far = sorted((-lower / self.u, upper / self.u))
        if near < 0:
            return max(0.0, t_cdf(near, self.dof) - t_cdf(-far, self.dof))
        return 1.0 - t_cdf(-near, self.dof) - t_cdf(-far, self.dof)

    def acceptance_bands(self, risk: float, width: float) -> Bands:
        """Both alike; when even the middle does not reach 1 - risk, the least half width that would."""
        if self.u == 0:
            return 0.0, 0.0
        least, most = -t_quantile(risk, self.dof), -t_quantile(risk / 2, self.dof)
        wide = width / self.u
        band = self.u * (most if 2 * most >= wide else _solve_tails(risk, self.dof, least, wide, -1.0))
        return band, band

    def rejection_bands(self, risk: float, width: float) -> Bands:
        """Both alike."""
        if self.u == 0:
            return 0.0, 0.0
        band = self.u * _solve_tails(risk, self.dof, -t_quantile(risk, self.dof), width / self.u, 1.0)
        return band, band

    def coverage(self, coverage: float) -> Bands:
        """-U and U."""
        expanded = coverage_factor(coverage, self.dof) * self.u
        return -expanded, expanded

    def scaled(self, factor: float) -> Student:
        """The same degrees of freedom."""
        return Student(self.u * factor, self.dof)


@dataclass(frozen=True, slots=True, eq=False)
class Empirical:
    """The distribution that Monte Carlo trials show: sorted `errors`, shape (trials,), with standard deviation `u`."""

    errors: FloatArray
    u: float

    def between(self, lower: float, upper: float) -> float:
        """Share of the trials from `lower` to `upper`, limits included."""
        inside = self.errors.searchsorted(upper, "right") - self.errors.searchsorted(lower, "left")
        return max(0, int(inside)) / len(self.errors)

    def acceptance_bands(self, risk: float, width: float) -> Bands:
        """The upper band is the least w with P(E > w) + P(E < w - width) <= risk; the lower one mirrors it."""
        return _inside(-self.errors[::-1], risk, width), _inside(self.errors, risk, width)

    def rejection_bands(self, risk: float, width: float) -> Bands:
        """The upper band is the least w >= 0 with P(E <= -w) + P(E >= width + w) <= risk; the lower one mirrors it."""

        def upper(w: float) -> bool:
            return self._at_most(-w) + self._at_least(width + w) <= risk

        def lower(w: float) -> bool:
            return self._at_least(w) + self._at_most(-width - w) <= risk

        return least_where(lower, 0.0, self._reach), least_where(upper, 0.0, self._reach)

    def coverage(self, coverage: float) -> Bands:
        """Ends of the interval among the trials."""
        return interval(self.errors, coverage)

    def scaled(self, factor: float) -> Empirical:
        """Every error times `factor`."""
        return Empirical(self.errors * factor, self.u * factor)

    @property
    def _reach(self) -> float:
        """More than the largest error."""
        largest = max(abs(float(self.errors[0])), abs(float(self.errors[-1])))
        return largest * (1 + 1e-9) + 1e-300

    def _above(self, x: float) -> float:
        return 1.0 - int(self.errors.searchsorted(x, "right")) / len(self.errors)

    def _below(self, x: float) -> float:
        return int(self.errors.searchsorted(x, "left")) / len(self.errors)

    def _at_least(self, x: float) -> float:
        return 1.0 - self._below(x)

    def _at_most(self, x: float) -> float:
        return 1.0 - self._above(x)


def least_where(holds: Callable[[float], bool], low: float, high: float) -> float:
    """The least x from `low` to `high` from which `holds` is true, by bisection; it must be true at `high`."""
    if holds(low):
        return low
    for _ in range(60):
        middle = 0.5 * (low + high)
        if holds(middle):
            high = middle
        else:
            low = middle
    return high


def _inside(errors: FloatArray, risk: float, width: float) -> float:
    """The least w for which at most a share `risk` of the sorted `errors` lies above w or below w - width.

    Looked for up to the window that holds the most errors; from there outwards the share falls off (one peak). When
    even that window leaves out more, no value is sure enough: the band that a tail of risk/2 asks for, half the width
    at least.
    """
    count = len(errors)

    def left_out(w: float) -> float:
        inside = errors.searchsorted(w, "right") - errors.searchsorted(w - width, "left")
        return 1.0 - int(inside) / count

    least, best = float(errors[0]), float(errors[-1])
    if width < best - least:
        held = errors.searchsorted(errors + width, "right") - np.arange(count)
        if count - int(held.max()) > risk * count:
            needed = float(errors[min(count - 1, int((1 - risk / 2) * count))])
            return max(needed, math.nextafter(width / 2, math.inf))
        best = min(best, float(errors[int(np.argmax(held))]) + width)
    return least_where(lambda w: left_out(w) <= risk, least - 1e-9 * abs(least), best)


def _solve_tails(risk: float, dof: float, start: float, width: float, sign: float) -> float:
    """The w with P(T > w) + P(T > width + sign w) = risk, by Newton from `start`, where the first tail alone is `risk`.

    The sum of tails is convex and falls towards the root, so that no step overshoots.
    """
    w = start
    for _ in range(50):
        far = width + sign * w
        excess = t_cdf(-w, dof) + t_cdf(-far, dof) - risk
        slope = t_density(w, dof) + sign * t_density(far, dof)
        if excess <= 1e-14 * risk or slope <= 0:
            break
        w += excess / slope
    return w
