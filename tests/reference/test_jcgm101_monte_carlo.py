"""Monte Carlo columns of the examples of JCGM 101:2008, clause 9, and where first order fails its validation there.

Provenance of each figure is in data/uncertainty-cases.json. Every case runs the function of its first-order test.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy import stats as scipy_stats

from rigproof.uncertainty import Budget, Input, bend, first_order_law, monte_carlo, validate
from rigproof.uncertainty.screening import MOST_BEND

stats: Any = scipy_stats  # it has no types

Case = Callable[[str], Any]
MANY = 1_000_000


def total(*x: Any) -> Any:
    return sum(x)


def mass_difference(mR: Any, dmR: Any, air: Any, weight: Any, reference: Any) -> Any:
    return (mR + dmR) * (1 + (air - 1.2) * (1 / weight - 1 / reference)) - 100000.0


MASS = Budget(
    mass_difference,
    [
        Input("mR", 100000.0, 0.050, unit="mg"),
        Input("dmR", 1.234, 0.020, unit="mg"),
        Input.limits("air", 1.2, 0.1, unit="kg/m3"),
        Input.limits("weight", 8000.0, 1000.0, unit="kg/m3"),
        Input.limits("reference", 8000.0, 50.0, unit="kg/m3"),
    ],
)


def loss(x1: float, r: float = 0.0) -> Budget:
    inputs = [Input("X1", x1, 0.005), Input("X2", 0.0, 0.005)]
    return Budget(lambda a, b: 1e6 * (a**2 + b**2), inputs, [("X1", "X2", r)] if r else [])


def test_9_2_2_four_normal_inputs(uncertainty_case: Case) -> None:
    budget = Budget(total, [Input(f"X{n}", 0.0, 1.0) for n in range(4)])
    trials = monte_carlo(budget, trials=4 * MANY)
    uncertainty_case("jcgm101-9.2.2").check(u=trials.u)
    # the ends of 4e6 trials scatter by 0.0027; the printed half unit is 0.005
    assert (trials.value, trials.lower, trials.upper) == pytest.approx((0.0, -3.92, 3.92), abs=0.01)
    assert validate(budget.evaluate(), most=2 * MANY).valid
    assert bend(budget.evaluate()) < MOST_BEND


def test_9_2_3_four_rectangular_inputs(uncertainty_case: Case) -> None:
    """First order, 3.92, is within δ = 0.05 of 3.88: validated with two digits, as the document says."""
    budget = Budget(total, [Input.limits(f"X{n}", 0.0, math.sqrt(3)) for n in range(4)])
    trials = monte_carlo(budget, trials=4 * MANY)
    case = uncertainty_case("jcgm101-9.2.3")
    case.check(u=trials.u, lower95=trials.lower, upper95=trials.upper)
    assert (trials.lower, trials.upper) == pytest.approx((-3.8794, 3.8794), abs=0.006)
    found = validate(budget.evaluate(), most=2 * MANY)
    assert found.valid
    assert found.delta == 0.05
    assert found.off_upper == pytest.approx(0.0405, abs=0.01)


def test_9_2_4_one_dominant_rectangular_input(uncertainty_case: Case) -> None:
    inputs = [Input.limits(f"X{n}", 0.0, size * math.sqrt(3)) for n, size in enumerate((1, 1, 1, 10))]
    budget = Budget(total, inputs)
    found = validate(budget.evaluate(), most=2 * MANY)
    trials = monte_carlo(budget, trials=MANY)
    uncertainty_case("jcgm101-9.2.4").check(upper95=trials.upper)
    assert trials.u == pytest.approx(math.sqrt(103), abs=0.01)  # printed 10.1; 10.149 lies on the edge of its half unit
    assert trials.interval(0.95) == pytest.approx((-17.016, 17.016), abs=0.02)  # exact, by convolution
    assert found.trials.stable
    assert (found.valid, found.delta) == (False, 0.5)
    assert bend(budget.evaluate()) < MOST_BEND


def test_9_2_first_order_with_the_inputs_convolved(uncertainty_case: Case) -> None:
    """The propagation of distributions without trials: 9.2.3 prints 3.88, 9.2.4 17.0 (exact: 17.016)."""
    for number, sizes in (("3", (1, 1, 1, 1)), ("4", (1, 1, 1, 10))):
        inputs = [Input.limits(f"X{n}", 0.0, size * math.sqrt(3)) for n, size in enumerate(sizes)]
        estimate = Budget(total, inputs).evaluate()
        law = first_order_law(estimate)
        lower, upper = law.coverage(0.95)
        case = uncertainty_case(f"jcgm101-9.2.{number}")
        case.check(upper95=upper)
        assert (lower, upper) == pytest.approx({"3": (-3.8794, 3.8794), "4": (-17.016, 17.016)}[number], abs=1e-3)
        assert validate(estimate, law=law, most=2 * MANY).valid


def test_9_3_mass_calibration(uncertainty_case: Case) -> None:
    """The published ends lie 0.001 lower than the exact interval of the same width (see the case's note).

    The law is symmetric, so its shortest interval is the symmetric one; among trials the shortest has a flat optimum.
    """
    trials = monte_carlo(MASS, trials=2 * MANY, shortest=True)
    case = uncertainty_case("jcgm101-9.3")
    case.check(y_MCM=trials.value, u_MCM=trials.u, width_MCM=trials.upper - trials.lower)
    symmetric = trials.interval(0.95)
    case.check(lo_MCM_shortest95=symmetric[0], hi_MCM_shortest95=symmetric[1])
    assert (trials.lower, trials.upper) == pytest.approx(symmetric, abs=2e-3)
    assert symmetric == pytest.approx((1.0844342, 1.3835658), abs=5e-4)  # exact, by quadrature


@pytest.mark.parametrize("digits", [1, 2])
def test_9_3_first_order_is_not_validated(digits: int) -> None:
    """Neither with δ = 0.005 nor with 0.0005 (the document's table 6)."""
    estimate = MASS.evaluate()
    found = validate(estimate, digits=digits)
    assert found.delta == pytest.approx(0.5 * 10.0 ** -(1 + digits))
    assert not found.valid
    assert min(found.off_lower, found.off_upper) > 0.04
    assert bend(estimate) > MOST_BEND


@pytest.mark.parametrize("x1", ["0.000", "0.010", "0.050"])
def test_9_4_comparison_loss(uncertainty_case: Case, x1: str) -> None:
    budget = loss(float(x1))
    trials = monte_carlo(budget, trials=MANY, shortest=True)
    figures = {"y": trials.value, "u": trials.u, "lo_shortest95": trials.lower, "hi_shortest95": trials.upper}
    uncertainty_case("jcgm101-9.4").check(**{f"x1_{x1}_{name}": value for name, value in figures.items()})
    estimate = budget.evaluate()
    assert bend(estimate) > MOST_BEND
    assert not validate(estimate).valid


@pytest.mark.parametrize("x1", [0.0, 0.010, 0.050])
def test_9_4_is_a_noncentral_chi_square(x1: float) -> None:
    """Exact: Y / u² has two degrees of freedom and noncentrality (x1/u)²."""
    trials = monte_carlo(loss(x1), trials=MANY)
    law = stats.ncx2(2, (x1 / 0.005) ** 2, scale=25.0) if x1 else stats.chi2(2, scale=25.0)
    assert stats.kstest(trials.values[::10], law.cdf).statistic < 2.33 / math.sqrt(MANY / 10)
    assert trials.interval(0.95) == pytest.approx(law.ppf([0.025, 0.975]), rel=0.02, abs=0.05)


@pytest.mark.parametrize("x1", [0.0, 0.010, 0.050])
def test_9_4_3_correlated_inputs(x1: float) -> None:
    """r = 0.9: mean x1² + 2u², variance 4 u² x1² + 4 u⁴ (1 + r²), by moments (JCGM 101, 9.4.3)."""
    trials = monte_carlo(loss(x1, 0.9), trials=MANY)
    u2 = 0.005**2
    assert trials.value == pytest.approx(1e6 * (x1**2 + 2 * u2), rel=0.005)
    assert trials.u == pytest.approx(1e6 * math.sqrt(4 * u2 * x1**2 + 4 * u2**2 * (1 + 0.81)), rel=0.01)


def test_the_same_trials_by_another_route() -> None:
    """9.3 once more with numpy's newer generator and a function of its own: the distributions are one."""
    bits = np.random.default_rng(20)
    air, weight = bits.uniform(1.1, 1.3, MANY), bits.uniform(7000, 9000, MANY)
    reference, mass = bits.uniform(7950, 8050, MANY), bits.normal(100000, 0.05, MANY) + bits.normal(1.234, 0.02, MANY)
    other = mass * (1 + (air - 1.2) * (1 / weight - 1 / reference)) - 100000
    ours = monte_carlo(MASS, trials=MANY)
    assert stats.ks_2samp(ours.values, other).statistic < 2.33 * math.sqrt(2 / MANY)
