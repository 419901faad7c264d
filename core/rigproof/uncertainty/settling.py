"""Which propagation a check rests on: first order, or Monte Carlo where the two disagree (JCGM 101, clause 8)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from rigproof.uncertainty.budget import Estimate
from rigproof.uncertainty.decision import Finding, Rule
from rigproof.uncertainty.distributions import coverage_factor
from rigproof.uncertainty.laws import Empirical, Law, Student
from rigproof.uncertainty.screening import Screen, screen, widths
from rigproof.uncertainty.validation import Validation, validate

# Trials for one check of a run: the ends of a 99 % interval are then good to 0.03 u, at the price of some 20 ms.
MOST = 10**5

# From this bend on u alone is off by 2 % or the value by 0.2 u: what a check states, not only what it finds.
BENT = 0.2

Method = Literal["first order", "Monte Carlo"]


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """What to judge by: value, degrees of freedom (inf for Monte Carlo), law of the errors, and how it was chosen."""

    method: Method
    value: float
    dof: float
    law: Law
    seen: Screen
    validation: Validation | None


def settle(estimate: Estimate, rule: Rule, found: Callable[[Law, float], Finding]) -> Settled:
    """Choose for a check whose finding is `found(law, value)`.

    Monte Carlo costs as much as a thousand budgets, so it runs only where the screen says that it matters: where the
    function bends so much that value and u are wrong whatever the finding, and otherwise where the finding hangs on it,
    that is, changes within what the bending may shift or the shape may narrow and widen. First order stays where it
    passes the validation at the rule's coverage, and for inputs from two or three readings, whose distribution has no
    standard deviation to draw from (JCGM 101, 6.4.9.4): Welch and Satterthwaite take those into account.
    """
    law = Student(estimate.u, estimate.dof)
    seen = screen(estimate)
    first_order = Settled("first order", estimate.value, estimate.dof, law, seen, None)
    if not _has_spread(estimate):
        return first_order
    if seen.bend <= BENT and (not (seen.bent or seen.odd) or _sure(estimate.value, law, seen, rule, found)):
        return first_order
    validation = validate(estimate, rule.coverage, most=MOST)
    if validation.valid:
        return replace(first_order, validation=validation)
    trials = validation.trials
    return Settled("Monte Carlo", trials.value, math.inf, Empirical(trials.errors(), trials.u), seen, validation)


def _has_spread(estimate: Estimate) -> bool:
    inputs = estimate.budget.inputs if estimate.budget is not None else ()
    return not any(item.u > 0 and item.shape in ("normal", "t") and item.dof <= 2 for item in inputs)


def _sure(value: float, law: Law, seen: Screen, rule: Rule, found: Callable[[Law, float], Finding]) -> bool:
    """Whether the finding is the same for all that the screen leaves open."""
    scales = (1.0, *widths(rule.coverage, rule.risk, seen.excess)) if seen.odd else (1.0,)
    # x + b x² with normal x of u = 1 has bend √2 b, and the end at k moves by b + b (k² - 1) (Cornish and Fisher)
    k = coverage_factor(rule.coverage, math.inf)
    shift = law.u * seen.bend * k * k / math.sqrt(2)
    values = (value, value - shift, value + shift) if seen.bent else (value,)
    return len({found(law.scaled(scale), at) for scale in scales for at in values}) == 1
