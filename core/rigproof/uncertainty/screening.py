"""Whether a function bends too much for first order (JCGM 101, 5.11.4), for one call of it on an array.

The function is taken at ± r u of every input alone and of every pair in all four combinations of signs, r = √3
(√2 for arcsine, whose limits lie there). Differences of these give all second derivatives, mixed ones too (an input
whose sensitivity vanishes at its estimate, JCGM 100, H.1, shows in a mixed one only), and the third ones that enter the
next term of the variance (JCGM 100, 5.1.2, note): a node at √3 u is where the three-point rule for a normal law stands,
so that no constant is left over. `bend` is the largest of three in proportion to u: shift of the mean, standard
uncertainty from second order, correction of u from third order. It is inf where the function has no finite value there.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from rigproof.uncertainty.budget import Budget, Estimate
from rigproof.uncertainty.sampling import FloatArray

# δ of JCGM 101, 7.9.2, for one significant digit is 0.056 u at its least; less bending than this no digit shows.
MOST_BEND = 0.05

IndexArray = npt.NDArray[np.intp]

_SQRT_2, _SQRT_3 = math.sqrt(2), math.sqrt(3)


def bend(estimate: Estimate) -> float:
    """How much the function of an estimate bends, see the module; 0 for one that came without a budget."""
    budget = estimate.budget
    if budget is None or not any(item.u > 0 for item in budget.inputs):
        return 0.0
    return _bend(budget, estimate)


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
