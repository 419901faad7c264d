"""The decision on conformity of a measured value with a tolerance (JCGM 106:2012; clause numbers from memory).

All probabilities are those of the scaled and shifted t distribution (normal for dof = inf) that the measured value and
its uncertainty give to the true value (JCGM 106, 7.2; JCGM 101, 6.4.9).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from rigproof.errors import NumberError
from rigproof.uncertainty.distributions import probability, t_cdf, t_density, t_quantile

Finding = Literal["accept", "reject", "undecided"]
RuleName = Literal["guarded acceptance", "simple acceptance", "guarded rejection"]
RULES: tuple[RuleName, ...] = get_args(RuleName)


@dataclass(frozen=True, slots=True)
class Tolerance:
    """The interval of permissible true values, limits included (JCGM 106, 3.3.5); None leaves a side open."""

    lower: float | None
    upper: float | None

    def __post_init__(self) -> None:
        if self.lower is None and self.upper is None:
            raise NumberError("tolerance: lower=None, upper=None: at least one limit is needed; state it")
        for name, limit in (("lower", self.lower), ("upper", self.upper)):
            if limit is not None and not math.isfinite(limit):
                raise NumberError(f"tolerance: {name}={limit!r}: must be finite; None stands for an open side")
        if self.lower is not None and self.upper is not None and self.lower > self.upper:
            raise NumberError(f"tolerance: lower={self.lower!r}, upper={self.upper!r}: must not cross; swap the limits")

    @property
    def width(self) -> float:
        """Distance of the limits; inf when one side is open."""
        return math.inf if self.lower is None or self.upper is None else self.upper - self.lower

    def moved(self, inwards: float) -> tuple[float | None, float | None]:
        """The limits, each moved by `inwards` (outwards when negative)."""
        return (
            None if self.lower is None else self.lower + inwards,
            None if self.upper is None else self.upper - inwards,
        )


@dataclass(frozen=True, slots=True)
class Rule:
    """A decision rule (JCGM 106, clause 8).

    guarded acceptance: what is accepted conforms with probability >= 1 - risk (8.3.2).
    simple acceptance: the tolerance limits are the acceptance limits, the risk is shared (8.2).
    guarded rejection: inside the tolerance is accepted, what is rejected fails with probability >= 1 - risk (8.3.3).
    `risk` is the specific risk of one decision, up to one half, where a guard band vanishes. `coverage` is for whoever
    computes a tolerance from an expanded uncertainty.
    """

    rule: RuleName = "guarded acceptance"
    risk: float = 0.05
    coverage: float = 0.99

    def __post_init__(self) -> None:
        if self.rule not in RULES:
            raise NumberError(f"rule={self.rule!r}: must be one of {', '.join(RULES)}")
        if not 0 < self.risk <= 0.5:
            raise NumberError(f"risk={self.risk!r}: must lie above 0 and up to 0.5, a toss-up; 0.05 stands for 5 %")
        probability("coverage", self.coverage)


@dataclass(frozen=True, slots=True)
class Decision:
    """A finding and how it came about; limits in the unit of the value, None on an open side.

    `guard_band` is the distance from a tolerance limit to its acceptance limit, or, under guarded rejection, to its
    rejection limit. When a tolerance is too narrow for any value to be accepted, both acceptance limits are None and
    `guard_band` is the least half width that would do.
    """

    finding: Finding
    guard_band: float
    acceptance_lower: float | None
    acceptance_upper: float | None
    conformance_probability: float
    rejection_lower: float | None
    rejection_upper: float | None


def decide(value: float, u: float, dof: float, tolerance: Tolerance, rule: Rule, computed: bool = False) -> Decision:
    """Judge the measured `value` with standard uncertainty `u` >= 0 and `dof` degrees of freedom.

    A `computed` tolerance is itself the expanded uncertainty of a difference that should be zero; a guard band inside
    would count u twice, so it is always judged by guarded rejection. A value on an acceptance limit is accepted, one on
    a rejection limit beyond the tolerance rejected. Raises NumberError for numbers outside their rule.
    """
    p = conformance_probability(value, u, dof, tolerance)
    name = "guarded rejection" if computed else rule.rule
    inside = outside = 0.0
    if name != "simple acceptance":
        outside = u * _rejection_band(rule.risk, dof, tolerance.width / u) if u > 0 else 0.0
    if name == "guarded acceptance":
        inside = u * _acceptance_band(rule.risk, dof, tolerance.width / u) if u > 0 else 0.0
    too_narrow = 2 * inside > tolerance.width
    accept_from, accept_to = (None, None) if too_narrow else tolerance.moved(inside)
    reject_below, reject_above = tolerance.moved(-outside)
    finding: Finding = "undecided"
    if not too_narrow and _within(value, accept_from, accept_to):
        finding = "accept"
    elif _beyond(value, reject_below, reject_above, tolerance):
        finding = "reject"
    guard_band = inside if name == "guarded acceptance" else outside
    return Decision(finding, guard_band, accept_from, accept_to, p, reject_below, reject_above)


def conformance_probability(value: float, u: float, dof: float, tolerance: Tolerance) -> float:
    """Probability that the true value lies within `tolerance` (JCGM 106, 7.3 and 7.4); for u = 0 it is 1 or 0."""
    if not math.isfinite(value):
        raise NumberError(f"value={value!r}: must be finite; a reading that is missing cannot be judged")
    if not (math.isfinite(u) and u >= 0):
        raise NumberError(f"u={u!r}: a standard uncertainty must be finite and >= 0")
    if not dof > 0:
        raise NumberError(f"dof={dof!r}: degrees of freedom must be > 0 (inf when u is well known)")
    if u == 0:
        return 1.0 if _within(value, tolerance.lower, tolerance.upper) else 0.0
    below = math.inf if tolerance.upper is None else (tolerance.upper - value) / u
    above = math.inf if tolerance.lower is None else (value - tolerance.lower) / u
    # From the nearer limit's tail, so that small probabilities keep their digits far outside.
    near, far = min(below, above), max(below, above)
    if near < 0:
        return max(0.0, t_cdf(near, dof) - t_cdf(-far, dof))
    return 1.0 - t_cdf(-near, dof) - t_cdf(-far, dof)


def _within(value: float, lower: float | None, upper: float | None) -> bool:
    return (lower is None or value >= lower) and (upper is None or value <= upper)


def _beyond(value: float, lower: float | None, upper: float | None, tolerance: Tolerance) -> bool:
    """On or past a rejection limit; a value on a tolerance limit still conforms."""
    if _within(value, tolerance.lower, tolerance.upper):
        return False
    return (lower is not None and value <= lower) or (upper is not None and value >= upper)


def _acceptance_band(risk: float, dof: float, width: float) -> float:
    """Guard band inside a tolerance of `width`, both in units of u: the two tails at an acceptance limit make `risk`.

    When even the middle of the tolerance does not reach 1 - risk: the least half width that would.
    """
    least, most = -t_quantile(risk, dof), -t_quantile(risk / 2, dof)
    if 2 * most >= width:
        return most
    return _solve_tails(risk, dof, least, width, -1.0)


def _rejection_band(risk: float, dof: float, width: float) -> float:
    """Guard band outside a tolerance of `width`, both in units of u.

    A true value on a tolerance limit is measured beyond one or the other rejection limit with probability `risk`; no
    other conforming value is rejected as often. The conformance probability on a rejection limit is `risk` or, when the
    tolerance is narrow, less: there it is small even in the middle, where no value must be rejected.
    """
    return _solve_tails(risk, dof, -t_quantile(risk, dof), width, 1.0)


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
