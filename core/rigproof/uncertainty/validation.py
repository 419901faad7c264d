"""Validation of a first-order result by Monte Carlo (JCGM 101:2008, clause 8; clause numbers from memory)."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.errors import NumberError
from rigproof.uncertainty.budget import Estimate
from rigproof.uncertainty.laws import Law, Student
from rigproof.uncertainty.montecarlo import MOST, Trials, monte_carlo


@dataclass(frozen=True, slots=True, eq=False)
class Validation:
    """First order against Monte Carlo: `valid` when neither end of the coverage interval is off by more than `delta`.

    `off_lower`, `off_upper`: |end by first order - end by Monte Carlo| (8.2, d_low and d_high).
    """

    valid: bool
    delta: float
    off_lower: float
    off_upper: float
    trials: Trials


def validate(
    estimate: Estimate,
    coverage: float = 0.95,
    *,
    law: Law | None = None,
    digits: int = 2,
    most: int = MOST,
    shortest: bool = False,
    seed: int | None = None,
) -> Validation:
    """Run the budget of `estimate` by Monte Carlo and compare the intervals for `coverage`.

    First order has the t law of the estimate, as in the GUM (G.4), unless the `law` of its errors is given.
    `delta` is half a unit of the last of `digits` significant digits of u, and the run goes on until its own noise is
    below delta/5 (8.2) or `most` trials are reached: then `trials.stable` is false, and first order is valid only where
    it agrees within delta all the same. Raises NumberError for an estimate without a budget and as `monte_carlo`.
    """
    if estimate.budget is None:
        raise NumberError("estimate without a budget: there is no function to run; take what Budget.evaluate gave")
    trials = monte_carlo(estimate.budget, coverage, digits=digits, most=most, shortest=shortest, seed=seed)
    lowest, highest = (law or Student(estimate.u, estimate.dof)).coverage(coverage)
    off_lower = abs(estimate.value + lowest - trials.lower)
    off_upper = abs(estimate.value + highest - trials.upper)
    valid = max(off_lower, off_upper) <= trials.delta
    return Validation(valid, trials.delta, off_lower, off_upper, trials)
