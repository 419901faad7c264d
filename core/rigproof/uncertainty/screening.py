"""Whether a first-order budget may be far from the truth, for the price of one call of its function on an array.

The screen looks at the two reasons why first order fails (JCGM 101, 5.11.4): the function bends within the spread of
its inputs, or the result is not distributed as normal or t.

Bending. The function is taken at ± r u of every input alone and of every pair in all four combinations of signs, r = √3
(√2 for arcsine, whose limits lie there). Differences of these give all second derivatives, mixed ones too (an input
whose sensitivity vanishes at its estimate, JCGM 100, H.1, shows in a mixed one only), and the third ones that enter the
next term of the variance (JCGM 100, 5.1.2, note): a node at √3 u is where the three-point rule for a normal law stands,
so that no constant is left over. `bend` is the largest of three in proportion to u: shift of the mean, standard
uncertainty from second order, correction of u from third order. It is inf where the function has no finite value there.

Shape. `excess` is the excess kurtosis of the result if the function were straight: Σ share² excess of each input. One
rectangle with half of the variance gives -0.3. Degrees of freedom do not count: the effective ones are for them.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from rigproof.uncertainty.budget import Budget, Estimate
from rigproof.uncertainty.distributions import coverage_factor, normal_quantile
from rigproof.uncertainty.inputs import Input
from rigproof.uncertainty.sampling import FloatArray

# δ of JCGM 101, 7.9.2 for one significant digit is 0.056 u at its least; less bending than this no digit shows.
MOST_BEND = 0.05
# One rectangle with half of the variance: up to there k is within 5 % at 99 % coverage, within 2 % at 95 %.
MOST_EXCESS = 0.3

IndexArray = npt.NDArray[np.intp]

_SQRT_2, _SQRT_3 = math.sqrt(2), math.sqrt(3)
_EXCESS = {"rectangular": -1.2, "triangular": -0.6, "arcsine": -1.5}


class Screen(NamedTuple):
    """What the screen saw, see the module."""

    bend: float
    excess: float

    @property
    def bent(self) -> bool:
        """Value, u and interval may be wrong: more than δ may show."""
        return not self.bend <= MOST_BEND

    @property
    def odd(self) -> bool:
        """u is right, but a coverage interval or a probability may be wrong."""
        return abs(self.excess) > MOST_EXCESS


def screen(estimate: Estimate) -> Screen:
    """Look at an estimate that came from a budget; one without a budget is taken as it is: (0, 0)."""
    budget = estimate.budget
    if budget is None or not any(item.u > 0 for item in budget.inputs):
        return Screen(0.0, 0.0)
    excess = sum(line.share**2 * _excess(item) for line, item in zip(estimate.lines, budget.inputs, strict=True))
    return Screen(_bend(budget, estimate), excess)


def widths(coverage: float, risk: float, excess: float) -> tuple[float, float]:
    """How much narrower and wider than first order says the intervals of a straight function may be, factors of u.

    For a result of that `excess`, at `coverage` (both tails) and at `risk` (one tail): on the line from the normal law
    (0, 1) to the arcsine or the rectangle, whichever lies farther out, or at the end of the range √(3 / -excess) u that
    a sum of equal arcsines has, if that is nearer; with 5 % for tails that cross (tested by trials).
    """
    narrow = wide = 0.0
    for tail, k in ((0.5 - 0.5 * coverage, coverage_factor(coverage, math.inf)), (risk, -normal_quantile(risk))):
        if k > 0:
            arcsine = (math.sqrt(2) * math.cos(math.pi * tail) / k - 1) / _EXCESS["arcsine"]
            rectangle = (math.sqrt(3) * (1 - 2 * tail) / k - 1) / _EXCESS["rectangular"]
            narrow = min(narrow, excess * arcsine, excess * rectangle, math.sqrt(3 / max(-excess, 1e-9)) / k - 1)
            wide = max(wide, excess * arcsine, excess * rectangle)
    return 0.95 * (1 + narrow), 1.05 * (1 + wide)


def _excess(item: Input) -> float:
    """Excess kurtosis of an input's shape."""
    if item.shape == "trapezoid":  # fourth cumulant of a sum of two rectangles, half widths 1 + form and 1 - form
        wide, narrow = (1 + item.form) ** 2, (1 - item.form) ** 2
        return -1.2 * (wide**2 + narrow**2) / (wide + narrow) ** 2
    if item.shape == "curvilinear trapezoid":  # a rectangle whose half width is itself 1 + form times a rectangle
        d = item.form**2
        return 9 / 5 * (1 + 2 * d + d * d / 5) / (1 + d / 3) ** 2 - 3
    return _EXCESS.get(item.shape, 0.0)


def _bend(budget: Budget, estimate: Estimate) -> float:
    inputs = budget.inputs
    moving = [n for n, item in enumerate(inputs) if item.u > 0]
    reach = np.array([_SQRT_2 if inputs[n].shape == "arcsine" else _SQRT_3 for n in moving])
    u = np.array([inputs[n].u for n in moving])
    slope = np.array([estimate.lines[n].sensitivity for n in moving]) * u
    signs, first, second = _directions(len(moving))
    points = np.empty((len(inputs), signs.shape[1]))
    points[:] = np.array([item.value for item in inputs])[:, np.newaxis]
    points[moving] += signs * (reach * u)[:, np.newaxis]
    off = budget.at(points) - estimate.value  # against the middle; what is straight goes out in the differences
    (up, down), pairs = off[: 2 * u.size].reshape(2, -1), off[2 * u.size :].reshape(4, -1)
    half, r_first, r_second = (up - down) / 2, reach[first], reach[second]
    rising, falling = (pairs[0] - pairs[3]) / 4, (pairs[1] - pairs[2]) / 4  # both move alike, or against each other
    own = (up + down) / reach**2  # f_ii u_i²
    mixed = (pairs[0] - pairs[1] - pairs[2] + pairs[3]) / (4 * r_first * r_second)  # f_ij u_i u_j
    steeper = half / reach - slope  # f_iii u_i³ / 2 when r = √3
    first_steeper = (rising + falling - half[first]) / (r_first * r_second**2)  # f_ijj u_i u_j² / 2, i the first
    second_steeper = (rising - falling - half[second]) / (r_second * r_first**2)
    shift = 0.5 * float(own.sum())
    spread = math.sqrt(0.5 * float((own * own).sum()) + float((mixed * mixed).sum()))
    third = float(
        (slope * steeper).sum() + (slope[first] * first_steeper).sum() + (slope[second] * second_steeper).sum()
    )
    if not math.isfinite(shift + spread + third):
        return math.inf
    if estimate.u == 0:
        return math.inf if shift != 0 or spread > 0 else 0.0
    return max(abs(shift) / estimate.u, spread / estimate.u, abs(third) / estimate.u**2)


@lru_cache(maxsize=64)
def _directions(size: int) -> tuple[FloatArray, IndexArray, IndexArray]:
    """Directions of the points, shape (size, 2 size²): up, down, then ++, +-, -+, -- of all pairs; and the pairs."""
    alone = np.eye(size)
    first, second = np.triu_indices(size, 1)
    a, b = alone[:, first], alone[:, second]
    return np.hstack([alone, -alone, a + b, a - b, b - a, -a - b]), first, second
