"""Monte Carlo and batches of the shunt check of `budget.py`, against what a hand would write and `uncertainties`.

Monte Carlo: a million trials by blocks with value, u, both ends of a 95 % interval and the sorted distribution, against
a few lines of numpy for the same function that draw the same numbers from the same source, all at once, and sort them.
Convolution: the law of the same budget with its Type B inputs as limits, against the 1e5 trials that a check would run.
Batch: a thousand budgets at once, per budget, against one by `uncertainties`.
"""

from __future__ import annotations

import importlib
import math
import time
from collections.abc import Callable
from statistics import median
from typing import Any

import numpy as np

from rigproof.uncertainty import Budget, Input, evaluate_many, first_order_law, monte_carlo

budget: Any = importlib.import_module("budget")  # beside this file
INPUTS, shunt_difference, theirs = budget.INPUTS, budget.shunt_difference, budget.theirs

REPEATS, TRIALS, SETS = 7, 1_000_000, 1000
BUDGET = Budget(shunt_difference, [Input(name, value, u, dof) for name, value, u, dof in INPUTS])
VALUES = np.array([[value] * SETS for _, value, _, _ in INPUTS]) * (1 + 1e-4 * np.arange(SETS) / SETS)
WITH_LIMITS = Budget(
    shunt_difference,
    [Input(name, value, u, dof, "rectangular" if dof == math.inf else "t") for name, value, u, dof in INPUTS],
)
ESTIMATE = WITH_LIMITS.evaluate()
U, DOF = np.array([[u] for _, _, u, _ in INPUTS]), np.array([[dof] for *_, dof in INPUTS])


def ours() -> tuple[float, float, float]:
    trials = monte_carlo(BUDGET, trials=TRIALS)
    return trials.u, trials.lower, trials.upper


def by_hand() -> tuple[float, float, float]:
    bits = np.random.RandomState(np.random.PCG64(1))
    drawn = [
        value + u * (bits.standard_normal(TRIALS) if dof == math.inf else bits.standard_t(dof, TRIALS))
        for _, value, u, dof in INPUTS
    ]
    values = np.sort(shunt_difference(*drawn))
    lower, upper = values[int(0.025 * TRIALS)], values[int(0.975 * TRIALS)]
    return float(values.std(ddof=1)), float(lower), float(upper)


def batch() -> object:
    return evaluate_many(shunt_difference, VALUES, U, DOF)


def trials_of_a_check() -> object:
    return monte_carlo(WITH_LIMITS, 0.99, trials=100_000)


def seconds(job: Callable[[], object], loops: int = 1) -> float:
    """Processor time of one `job`."""
    start = time.process_time()
    for _ in range(loops):
        job()
    return (time.process_time() - start) / loops


def rows() -> list[tuple[str, float, str]]:
    """(name, ratio, goal) of each figure measured here; the two sides take turns, so that a busy machine hits both."""
    if not all(math.isclose(a, b, rel_tol=0.02) for a, b in zip(ours(), by_hand(), strict=True)):
        raise AssertionError(f"the two sides disagree: {ours()} and {by_hand()}")
    pairs = [(seconds(ours), seconds(by_hand)) for _ in range(REPEATS)]
    trials = median(a for a, _ in pairs) / median(b for _, b in pairs)
    pairs = [(seconds(lambda: first_order_law(ESTIMATE), 20), seconds(trials_of_a_check)) for _ in range(REPEATS)]
    convolved = median(b for _, b in pairs) / median(a for a, _ in pairs)
    pairs = [(seconds(batch, 10) / SETS, seconds(theirs, 60)) for _ in range(31)]
    many = median(b for _, b in pairs) / median(a for a, _ in pairs)
    return [
        ("Monte Carlo of 1e6 trials, times the same in numpy by hand", trials, "≤ 1.2"),
        ("law by convolution, times faster than the 1e5 trials of a check", convolved, "≥ 20"),
        ("1,000 budgets in a batch, times faster each than `uncertainties`", many, "≥ 100"),
    ]


if __name__ == "__main__":
    for name, ratio, goal in rows():
        print(f"{name}: {ratio:.2f} (goal {goal})")  # noqa: T201
