"""Global risks: the curve together with how large the flaw is in what is made (JCGM 106:2012, 9.5)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from rigproof.errors import NumberError
from rigproof.uncertainty import normal_cdf

from .curve import Curve

_STEPS = 4000  # of the midpoint rule over ±8 standard deviations; far below what a campaign can tell


@dataclass(frozen=True)
class Risk:
    """A probability with its 95 % interval."""

    value: float
    lower: float
    upper: float


def global_risks(curve: Curve, mean: float, sd: float) -> tuple[Risk, Risk]:
    """(consumer's, producer's) risk where sizes are normal with `mean` and `sd` > 0, base units.

    Consumer's: accepted, and the flaw larger than the curve's limit; producer's: not accepted, and not larger. Both are
    joint probabilities, as in JCGM 106. The intervals come from bounds that hold for the whole curve at once.
    """
    if not (math.isfinite(sd) and sd > 0 and math.isfinite(mean)):
        raise NumberError(f"mean={mean!r}, sd={sd!r}: must be finite, and sd > 0; take them from past items")
    width = 16.0 * sd / _STEPS
    sizes = mean - 8.0 * sd + width * (np.arange(_STEPS) + 0.5)
    weights = np.exp(-0.5 * ((sizes - mean) / sd) ** 2) * (width / (sd * math.sqrt(2 * math.pi)))
    places = [curve.axis.place(float(size)) for size in sizes]
    worse = np.array(places) > curve.axis.place(curve.limit)

    def over(probability: Callable[[float], float]) -> tuple[float, float]:
        accepted = np.array([probability(place) for place in places])
        return float((weights * accepted)[worse].sum()), float((weights * (1.0 - accepted))[~worse].sum())

    (value, other), low, high = over(curve.at), over(_lower(curve)), over(_upper(curve))
    return Risk(value, low[0], high[0]), Risk(other, high[1], low[1])


def beyond(curve: Curve, mean: float, sd: float) -> float:
    """Share of the sizes of `global_risks` that lie beyond the ends of the curve, and count as these."""
    low, high = sorted(curve.ends)
    return normal_cdf((low - mean) / sd) + normal_cdf((mean - high) / sd)


def _lower(curve: Curve) -> Callable[[float], float]:
    """A flaw is accepted at least as often as any larger one."""
    bounds = curve.bounds()
    return lambda place: max((lower for at, lower, _ in bounds if at >= place), default=0.0)


def _upper(curve: Curve) -> Callable[[float], float]:
    """And at most as often as any smaller one."""
    bounds = curve.bounds()
    return lambda place: min((upper for at, _, upper in bounds if at <= place), default=1.0)
