"""Global risks of a decision rule, and the E_n number (JCGM 106:2012, clause 9; clause numbers from memory)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from rigproof.errors import NumberError
from rigproof.uncertainty.decision import Tolerance
from rigproof.uncertainty.distributions import normal_cdf

_NODES, _WEIGHTS = (row.tolist() for row in np.polynomial.legendre.leggauss(24))
# Panels of the quadrature begin and end so many standard deviations from where an integrand turns.
_MARKS = (0.5, 1.0, 2.0, 3.0, 4.5, 6.0, 8.0, 10.0)

# What binary fractions leave of decimal readings; far below any digit that is reported.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class GlobalRisk:
    """Probabilities over production and measurement together (JCGM 106, 9.5).

    `consumer`: accepted and not conforming; `producer`: rejected and conforming; `conforming`: of what is made, before
    any inspection. All are joint probabilities; divide by that of accepting for the share among what was accepted.
    """

    consumer: float
    producer: float
    conforming: float


def global_risk(
    process_mean: float, process_sd: float, u: float, tolerance: Tolerance, acceptance: Tolerance
) -> GlobalRisk:
    """Risks when true values are normal (`process_mean`, `process_sd` > 0) and errors normal with `u` >= 0.

    An item is accepted when its measured value lies within `acceptance`, limits included (JCGM 106, equations 16 to
    19). Integrals by Gauss-Legendre quadrature; good to 1e-12. Raises NumberError for numbers outside their rule.
    """
    for name, number, least in (("process_sd", process_sd, 5e-324), ("u", u, 0.0)):
        if not (math.isfinite(number) and number >= least):
            raise NumberError(f"{name}={number!r}: must be finite and {'> 0' if least else '>= 0'}; give its magnitude")
    if not math.isfinite(process_mean):
        raise NumberError(f"process_mean={process_mean!r}: must be finite; take it from past items")

    def joint(true: float, sign: float) -> float:
        """Density of `true` times the probability that it is accepted (sign 1) or rejected (-1)."""
        density = math.exp(-0.5 * ((true - process_mean) / process_sd) ** 2) / (process_sd * math.sqrt(2 * math.pi))
        return density * _measured_within(true, u, acceptance, sign > 0)

    lower, upper = tolerance.lower, tolerance.upper
    ends = process_mean - 10 * process_sd, process_mean + 10 * process_sd
    low = ends[0] if lower is None else min(max(lower, ends[0]), ends[1])
    high = ends[1] if upper is None else min(max(upper, ends[0]), ends[1])
    turns = [(process_mean, process_sd), *((x, u) for x in (acceptance.lower, acceptance.upper) if x is not None)]
    accepted = [(ends[0], low), (high, ends[1])]
    consumer = sum(_integral(lambda x: joint(x, 1.0), begin, end, turns) for begin, end in accepted)
    producer = _integral(lambda x: joint(x, -1.0), low, high, turns)
    below = 0.0 if lower is None else normal_cdf((lower - process_mean) / process_sd)
    above = 0.0 if upper is None else normal_cdf((process_mean - upper) / process_sd)
    return GlobalRisk(consumer, producer, 1.0 - below - above)


def _measured_within(true: float, u: float, limits: Tolerance, inside: bool) -> float:
    """Probability that `true` is measured inside the limits, or outside, each without loss of small digits."""
    if u == 0:
        within = (limits.lower is None or true >= limits.lower) and (limits.upper is None or true <= limits.upper)
        return float(within == inside)
    low = -math.inf if limits.lower is None else (limits.lower - true) / u
    high = math.inf if limits.upper is None else (limits.upper - true) / u
    if not inside:
        return normal_cdf(low) + normal_cdf(-high)
    return normal_cdf(high) - normal_cdf(low) if low < 0 else normal_cdf(-low) - normal_cdf(-high)


def _integral(function: Callable[[float], float], begin: float, end: float, turns: list[tuple[float, float]]) -> float:
    """Integral over panels whose edges crowd about each turn (place, width)."""
    if not begin < end:
        return 0.0
    marks = {begin, end}
    for place, width in turns:
        marks |= {place + sign * mark * width for mark in (0.0, *_MARKS) for sign in (-1, 1)}
    edges = sorted(mark for mark in marks if begin <= mark <= end)
    parts = []
    for left, right in pairwise(edges):
        half, middle = 0.5 * (right - left), 0.5 * (right + left)
        parts += [w * half * function(middle + half * x) for x, w in zip(_NODES, _WEIGHTS, strict=True)]
    return math.fsum(parts)


def en_number(value: float, reference: float, expanded: float, expanded_reference: float) -> float:
    """E_n = (value - reference) / √(U² + U_ref²): independent results, both U expanded at one coverage (ISO/IEC 17043).

    Not rounded. Raises NumberError unless both U are finite, >= 0 and not both 0.
    """
    for name, number in (("value", value), ("reference", reference)):
        if not math.isfinite(number):
            raise NumberError(f"{name}={number!r}: must be finite; leave out a missing result")
    for name, number in (("expanded", expanded), ("expanded_reference", expanded_reference)):
        if not (math.isfinite(number) and number >= 0):
            raise NumberError(f"{name}={number!r}: an expanded uncertainty must be finite and >= 0; give its magnitude")
    both = math.hypot(expanded, expanded_reference)
    if both == 0:
        raise NumberError("expanded=0 and expanded_reference=0: E_n needs an uncertainty; state at least one")
    return (value - reference) / both


def en_satisfactory(en: float) -> bool:
    """|E_n| <= 1, exactly 1 included (ISO/IEC 17043:2010, annex B, from memory; ISO 13528 puts 1 on the other side).

    1 + 1e-9 still counts as 1: decimal results such as 100.015 have no exact binary form.
    """
    return abs(en) <= 1 + _ROUNDING
