"""What can be said of a check before any hardware: judged on paper, from what a sound rig would read."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from rigproof.uncertainty import Budget, Input, Law, Shape, Student, first_order_law
from rigproof.verdict.record import Check


@dataclass(frozen=True)
class Assumed:
    """What a step brings to its own rehearsal: a paper rig takes the rest from the documents."""

    shunt_ohm: float | None = None  # the resistor that its relay closes; None: the relay changes nothing
    insulation_ohm: float | None = None  # what an insulation tester reads; None: above its range
    warms_k: float = 0.0  # by which the part is warmer as soon as it waits


@dataclass(frozen=True)
class Foreseen:
    """A check as the budgets foresee it, without the readings' scatter.

    `capability` of a specified two-sided tolerance is C_m = T/(4 u), T its whole width: half of it over U with k = 2
    (JCGM 106:2012, 7.6.3, from memory). Of a computed tolerance it is None, and `expanded` over `expected` tells.
    """

    check: Check
    acceptable: bool  # false: not even a sound rig, read without scatter, would be accepted

    @property
    def expanded(self) -> float:
        """U at the procedure's coverage; 0 where there is no number."""
        return self.check.U or 0.0

    @property
    def reads(self) -> float | None:
        """What a sound rig reads; None where there is no number, or where the limit itself was looked at."""
        check = self.check
        if check.expected is not None:
            return check.expected
        if check.measured is None or (self.acceptable and check.finding != "accept"):
            return None
        return check.measured if abs(check.measured) > check.u_decides / 1000 else 0.0

    @property
    def capability(self) -> float | None:
        """C_m; None where a side is open, nothing was read, or nothing is uncertain."""
        limits, check = self.check.tolerance, self.check
        if (
            limits.computed
            or limits.lower is None
            or limits.upper is None
            or check.measured is None
            or not check.u_decides
        ):
            return None
        return (limits.upper - limits.lower) / (4 * check.u_decides)

    @property
    def chance(self) -> float | None:
        """Probability that a sound rig reads inside the acceptance limits, by the budget and without scatter.

        None for a computed tolerance, which its coverage decides, and where nothing tells what a sound rig reads.
        """
        check, reads = self.check, self.reads
        if check.tolerance.computed or (reads is None and self.acceptable):
            return None
        if reads is None or (check.acceptance_lower is None and check.acceptance_upper is None):
            return 0.0
        low = -math.inf if check.acceptance_lower is None else check.acceptance_lower - reads
        high = math.inf if check.acceptance_upper is None else check.acceptance_upper - reads
        return law_of(check).between(low, high)

    @property
    def share(self) -> float | None:
        """Half a computed tolerance as a share of the expected value; None where there is none."""
        expected = self.check.expected
        return self.expanded / abs(expected) if self.check.tolerance.computed and expected else None

    @property
    def why(self) -> str:
        """Why it cannot be accepted; "" where it can."""
        check = self.check
        if self.acceptable:
            return ""
        if check.note:
            return check.note
        if check.acceptance_lower is None and check.acceptance_upper is None:
            return "the guard bands leave nothing of the tolerance"
        return "a sound rig would read outside the acceptance limits"

    @property
    def improve(self) -> str:
        """The input with the largest share of the variance; "" where nothing is uncertain."""
        largest = max(self.check.budget, key=lambda line: line.share, default=None)
        return largest.input if largest and largest.share > 0 else ""


def law_of(check: Check) -> Law:
    """The law of the errors of what decides, by the lines of its budget."""
    parts = [
        Input(f"{n}", 0.0, line.contribution, line.dof or math.inf, cast("Shape", line.shape or "normal"))
        for n, line in enumerate(check.budget)
        if line.contribution > 0
    ]
    estimate = Budget(lambda *errors: sum(errors), parts).evaluate()
    law = first_order_law(estimate) if parts else Student(check.u_decides)
    return law.scaled(check.u_decides / law.u) if law.u else law


def foreseen(checks: Sequence[Check]) -> tuple[Foreseen, ...]:
    """Checks of a rehearsal, in which a sound rig gives what it must: what is not accepted there never will be."""
    return tuple(Foreseen(check, check.finding == "accept") for check in checks)
