"""The decision on conformity of a measured value with a tolerance (JCGM 106:2012; clause numbers from memory).

Probabilities are those that the measured value and its uncertainty give to the true value (JCGM 106, 7.2): a scaled
and shifted t distribution (normal for dof = inf; JCGM 101, 6.4.9) or the trials of a Monte Carlo run (`laws.py`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, get_args

from rigproof.errors import NumberError
from rigproof.uncertainty.distributions import probability
from rigproof.uncertainty.laws import Bands, Law, Student

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

    def moved(self, at_lower: float, at_upper: float) -> tuple[float | None, float | None]:
        """The limits, each moved inwards by its own distance (outwards when negative)."""
        return (
            None if self.lower is None else self.lower + at_lower,
            None if self.upper is None else self.upper - at_upper,
        )


@dataclass(frozen=True, slots=True)
class Rule:
    """A decision rule (JCGM 106, clause 8).

    guarded acceptance: what is accepted conforms with probability >= 1 - risk (8.3.2).
    simple acceptance: the tolerance limits are the acceptance limits, the risk is shared (8.2).
    guarded rejection: inside the tolerance is accepted, what is rejected fails with probability >= 1 - risk (8.3.3).
    `risk` is the specific risk of one decision, up to one half, where a guard band vanishes. With a `multiple` r >= 0
    guard bands are w = r U with U = 2 u instead (8.3.2; ILAC-G8:09/2019, table 1), whatever the risk that this leaves.
    `coverage` is for whoever computes a tolerance from an expanded uncertainty.
    """

    rule: RuleName = "guarded acceptance"
    risk: float = 0.05
    coverage: float = 0.99
    multiple: float | None = None

    def __post_init__(self) -> None:
        if self.rule not in RULES:
            raise NumberError(f"rule={self.rule!r}: must be one of {', '.join(RULES)}")
        if not 0 < self.risk <= 0.5:
            raise NumberError(f"risk={self.risk!r}: must lie above 0 and up to 0.5, a toss-up; 0.05 stands for 5 %")
        probability("coverage", self.coverage)
        if self.multiple is not None and not (math.isfinite(self.multiple) and self.multiple >= 0):
            raise NumberError(f"multiple={self.multiple!r}: must be finite and >= 0; 1 makes U the guard band")


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
    """Judge the measured `value` with standard uncertainty `u` >= 0 and `dof` degrees of freedom, see `decide_by`."""
    return decide_by(value, Student(u, dof), tolerance, rule, computed)


def decide_by(value: float, law: Law, tolerance: Tolerance, rule: Rule, computed: bool = False) -> Decision:
    """Judge the measured `value`; the true one differs by what `law` says (a t distribution, or Monte Carlo trials).

    A `computed` tolerance is itself the expanded uncertainty of a difference that should be zero; a guard band inside
    would count u twice, so it is always judged by guarded rejection.

    Nothing is rounded before deciding. On equality: a value on an acceptance limit is accepted, one on a rejection
    limit beyond the tolerance is rejected, and a value on a tolerance limit still conforms. Raises NumberError for
    numbers outside their rule.
    """
    p = _probability(value, law, tolerance)
    name = "guarded rejection" if computed else rule.rule
    inside = outside = 0.0, 0.0
    if name != "simple acceptance":
        outside = _bands(law, rule, law.rejection_bands, tolerance.width)
    if name == "guarded acceptance":
        inside = _bands(law, rule, law.acceptance_bands, tolerance.width)
    too_narrow = inside[0] + inside[1] > tolerance.width
    accept_from, accept_to = (None, None) if too_narrow else tolerance.moved(*inside)
    reject_below, reject_above = tolerance.moved(-outside[0], -outside[1])
    finding: Finding = "undecided"
    if not too_narrow and _within(value, accept_from, accept_to):
        finding = "accept"
    elif _beyond(value, reject_below, reject_above, tolerance):
        finding = "reject"
    at_lower, at_upper = inside if name == "guarded acceptance" else outside
    guard_band = at_upper if _nearer_upper(value, tolerance) else at_lower
    return Decision(finding, guard_band, accept_from, accept_to, p, reject_below, reject_above)


def conformance_probability(value: float, u: float, dof: float, tolerance: Tolerance) -> float:
    """Probability that the true value lies within `tolerance` (JCGM 106, 7.3 and 7.4); for u = 0 it is 1 or 0."""
    return _probability(value, Student(u, dof), tolerance)


def _probability(value: float, law: Law, tolerance: Tolerance) -> float:
    if not math.isfinite(value):
        raise NumberError(f"value={value!r}: must be finite; a reading that is missing cannot be judged")
    if law.u == 0:  # a limit less the value may vanish where the two still differ
        return 1.0 if _within(value, tolerance.lower, tolerance.upper) else 0.0
    return law.between(
        -math.inf if tolerance.lower is None else tolerance.lower - value,
        math.inf if tolerance.upper is None else tolerance.upper - value,
    )


def _bands(law: Law, rule: Rule, by_risk: Callable[[float, float], Bands], width: float) -> Bands:
    """By the rule's multiple of U where it has one (JCGM 106, 8.3.2: w = r U, U = 2 u), else by its risk."""
    if rule.multiple is None:
        return by_risk(rule.risk, width)
    band = rule.multiple * 2 * law.u
    return band, band


def _nearer_upper(value: float, tolerance: Tolerance) -> bool:
    if tolerance.lower is None or tolerance.upper is None:
        return tolerance.lower is None
    return tolerance.upper - value <= value - tolerance.lower


def _within(value: float, lower: float | None, upper: float | None) -> bool:
    return (lower is None or value >= lower) and (upper is None or value <= upper)


def _beyond(value: float, lower: float | None, upper: float | None, tolerance: Tolerance) -> bool:
    """On or past a rejection limit; a value on a tolerance limit still conforms."""
    if _within(value, tolerance.lower, tolerance.upper):
        return False
    return (lower is not None and value <= lower) or (upper is not None and value >= upper)
