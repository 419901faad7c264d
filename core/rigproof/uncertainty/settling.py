"""Which propagation a check rests on: first order, or Monte Carlo where the function bends (JCGM 101, clause 8).

The budget decides, and not how near a limit the reading lies: one check has one tolerance, whatever was read.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from rigproof.uncertainty.budget import Estimate
from rigproof.uncertainty.convolution import Convolved, first_order_law
from rigproof.uncertainty.laws import Empirical, Law
from rigproof.uncertainty.screening import MOST_BEND, bend
from rigproof.uncertainty.validation import Validation, validate

# Trials for one check of a run: the ends of a 99 % interval are then good to 0.03 u, at the price of some 20 ms.
MOST = 10**5

Method = Literal["first order", "first order, inputs convolved", "Monte Carlo"]


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """What to judge by: value, degrees of freedom (inf for Monte Carlo), law of the errors, and how it was chosen."""

    method: Method
    value: float
    dof: float
    law: Law
    validation: Validation | None


def settle(estimate: Estimate, coverage: float) -> Settled:
    """Choose for a check, whose intervals are wanted at `coverage`.

    Where the function is straight within the spread of its inputs, first order has the exact law (`convolution`), and
    Monte Carlo would only add noise to it. Where it bends, a run validates first order at `coverage` and replaces it
    where they disagree. Inputs from two or three readings have no standard deviation to draw from (JCGM 101, 6.4.9.4):
    first order stays, and Welch and Satterthwaite take them into account.
    """
    law = first_order_law(estimate)
    method: Method = "first order, inputs convolved" if isinstance(law, Convolved) else "first order"
    if not _has_spread(estimate) or bend(estimate) <= MOST_BEND:
        return Settled(method, estimate.value, estimate.dof, law, None)
    validation = validate(estimate, coverage, law=law, most=MOST)
    if validation.valid:
        return Settled(method, estimate.value, estimate.dof, law, validation)
    trials = validation.trials
    return Settled("Monte Carlo", trials.value, math.inf, Empirical(trials.errors(), trials.u), validation)


def _has_spread(estimate: Estimate) -> bool:
    inputs = estimate.budget.inputs if estimate.budget is not None else ()
    return not any(item.u > 0 and item.shape in ("normal", "t") and item.dof <= 2 for item in inputs)
