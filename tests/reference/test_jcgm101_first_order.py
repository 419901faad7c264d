"""First-order columns ("GUM uncertainty framework") of the examples of JCGM 101:2008, clause 9.

The Monte Carlo columns beside them are in test_jcgm101_monte_carlo.py; they show where first order fails.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from rigproof.uncertainty import Budget, Input

Case = Callable[[str], Any]


def total(*x: float) -> float:
    return sum(x)


def test_9_2_2_four_normal_inputs(uncertainty_case: Case) -> None:
    case = uncertainty_case("jcgm101-9.2.2")
    estimate = Budget(total, [Input(f"X{n}", 0.0, 1.0) for n in range(4)]).evaluate()
    _, expanded = estimate.expanded(0.95)
    case.check(y=estimate.value, u=estimate.u, lower95=estimate.value - expanded, upper95=estimate.value + expanded)


def test_9_2_3_four_rectangular_inputs(uncertainty_case: Case) -> None:
    case = uncertainty_case("jcgm101-9.2.3")
    estimate = Budget(total, [Input.limits(f"X{n}", 0.0, math.sqrt(3)) for n in range(4)]).evaluate()
    case.check(y=estimate.value, u=estimate.u, upper95_GUF=estimate.expanded(0.95)[1])


def test_9_2_4_one_dominant_rectangular_input(uncertainty_case: Case) -> None:
    case = uncertainty_case("jcgm101-9.2.4")
    inputs = [Input.limits(f"X{n}", 0.0, size * math.sqrt(3)) for n, size in enumerate((1, 1, 1, 10))]
    estimate = Budget(total, inputs).evaluate()
    case.check(u=estimate.u, upper95_GUF=estimate.expanded(0.95)[1])


def test_9_3_mass_calibration(uncertainty_case: Case) -> None:
    case = uncertainty_case("jcgm101-9.3")
    inputs = [
        Input("mR", 100000.0, 0.050, unit="mg"),
        Input("dmR", 1.234, 0.020, unit="mg"),
        Input.limits("air", 1.2, 0.1, unit="kg/m3"),
        Input.limits("weight", 8000.0, 1000.0, unit="kg/m3"),
        Input.limits("reference", 8000.0, 50.0, unit="kg/m3"),
    ]

    def difference(mR: float, dmR: float, air: float, weight: float, reference: float) -> float:
        return (mR + dmR) * (1 + (air - 1.2) * (1 / weight - 1 / reference)) - 100000.0

    estimate = Budget(difference, inputs).evaluate()
    _, expanded = estimate.expanded(0.95)
    case.check(y_GUF1=estimate.value, u_GUF1=estimate.u)
    case.check(lo_GUF1=estimate.value - expanded, hi_GUF1=estimate.value + expanded)


@pytest.mark.parametrize("x1", ["0.000", "0.010", "0.050"])
def test_9_4_comparison_loss(uncertainty_case: Case, x1: str) -> None:
    """At x1 = 0 first order sees no uncertainty at all."""
    case = uncertainty_case("jcgm101-9.4")
    inputs = [Input("X1", float(x1), 0.005), Input("X2", 0.0, 0.005)]
    estimate = Budget(lambda a, b: 1e6 * (a**2 + b**2), inputs).evaluate()
    _, expanded = estimate.expanded(0.95)
    figures = {"y": estimate.value, "u": estimate.u, "lo": estimate.value - expanded, "hi": estimate.value + expanded}
    case.check(**{f"x1_{x1}_{name}_GUF": value for name, value in figures.items()})
