"""How long one uncertainty budget takes, against the `uncertainties` library doing the same job.

The job is a shunt check as a step judges it: eight inputs, the output read minus the output that the resistor must
give, both reduced to strain; wanted are value, u, effective degrees of freedom, and per input its sensitivity,
contribution and share. Making the inputs counts, since every check of every run has inputs of its own.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from statistics import median
from typing import Any

import uncertainties

from rigproof.uncertainty import Budget, Input

REPEATS = 41
LOOPS = 60
INPUTS: tuple[tuple[str, float, float, float], ...] = (  # name, value, u, dof
    ("reading", -0.499e-3, 2e-8, 19.0),
    ("zero", 1.2e-5, 2e-8, 19.0),
    ("gain", 1.0, 2.9e-4, math.inf),
    ("resistor", 174.8e3, 101.0, math.inf),
    ("resistance", 350.0, 0.61, math.inf),
    ("lead", 0.8, 0.046, math.inf),
    ("gauge factor", 2.08, 0.006, math.inf),
    ("drift", 0.0, 2.9e-8, math.inf),
)


def arm_change(reading: Any, zero: Any) -> Any:
    return (reading - zero) / ((0.5 - reading) * (0.5 + zero))


def shunt_difference(
    reading: Any, zero: Any, gain: Any, resistor: Any, gauge: Any, lead: Any, factor: Any, drift: Any
) -> Any:
    """Strain read minus strain predicted, three-wire quarter bridge, resistor closed at the instrument."""
    share = 0.5 + zero
    source = (1.0 - share) * (gauge + lead) + lead
    predicted = zero - share * source / (source + resistor)
    sensitivity = factor * gauge / (gauge + lead)
    read = zero + (reading - zero) * gain + drift
    return (arm_change(read, zero) - arm_change(predicted, zero)) / sensitivity


def ours() -> tuple[float, float]:
    estimate = Budget(shunt_difference, [Input(name, value, u, dof) for name, value, u, dof in INPUTS]).evaluate()
    return estimate.u, estimate.dof


def theirs() -> tuple[float, float]:
    ufloat: Any = uncertainties.ufloat  # it has no types
    inputs = [ufloat(value, u, name) for name, value, u, _ in INPUTS]
    result = shunt_difference(*inputs)
    u = result.std_dev
    contributions = result.error_components()
    sensitivities = result.derivatives
    lines = [(i.tag, i.n, i.s, sensitivities[i], contributions[i], (contributions[i] / u) ** 2) for i in inputs]
    weight = sum(share**2 / dof for (*_, share), (*_, dof) in zip(lines, INPUTS, strict=True))
    return u, 1.0 / weight


def seconds(job: Callable[[], object]) -> float:
    """Processor time of one `job`: wall time on a busy machine favours whoever fits between two interruptions."""
    start = time.process_time()
    for _ in range(LOOPS):
        job()
    return (time.process_time() - start) / LOOPS


def rows() -> list[tuple[str, float, str]]:
    """(name, ratio, goal) of each figure measured here; the two sides take turns, so that a busy machine hits both."""
    if not all(math.isclose(a, b, rel_tol=1e-6) for a, b in zip(ours(), theirs(), strict=True)):
        raise AssertionError(f"the two sides disagree: {ours()} and {theirs()}")
    pairs = [(seconds(ours), seconds(theirs)) for _ in range(REPEATS)]
    ratio = median(slow for _, slow in pairs) / median(fast for fast, _ in pairs)
    return [("budget of 8 inputs, times faster than `uncertainties`", ratio, "≥ 5")]


if __name__ == "__main__":
    for name, ratio, goal in rows():
        print(f"{name}: {ratio:.2f} (goal {goal})")  # noqa: T201
