"""The screen must see what makes first order fail, and let a straight budget of many small inputs pass."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats as scipy_stats

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget, Estimate, Input, coverage_factor, monte_carlo, normal_quantile, screen
from rigproof.uncertainty.screening import widths

approx: Any = pytest.approx
stats: Any = scipy_stats  # it has no types
INF = math.inf


def seen(function: Any, *inputs: Input) -> Any:
    return screen(Budget(function, inputs).evaluate())


def a(u: float = 0.3, **more: Any) -> Input:
    return Input("a", 2.0, u, **more)


B = Input("b", 5.0, 0.4)


def test_a_straight_function_does_not_bend() -> None:
    result = seen(lambda x, y: 3 * x - 7 * y + 1, a(), B)
    assert result.bend == approx(0.0, abs=1e-9)
    assert not result.bent
    assert result.excess == 0


def test_shift_of_the_mean_by_a_square() -> None:
    """x²: f'' u² / 2 = u² = 0.09 and √2 u² = 0.127 of second order, against u = 2 x u = 1.2."""
    assert seen(lambda x: x * x, a()).bend == approx(math.sqrt(2) * 0.09 / 1.2, rel=1e-6)


def test_shift_may_be_larger_than_the_second_order() -> None:
    """Ten squares shift by 10 u², their second order grows with √10 alone."""
    inputs = [Input(f"x{n}", 2.0, 0.3) for n in range(10)]
    assert seen(lambda *x: sum(i * i for i in x), *inputs).bend == approx(0.9 / (1.2 * math.sqrt(10)), rel=1e-6)


def test_opposite_shifts_cancel_but_their_spread_stays() -> None:
    result = seen(lambda x, y: x * x - y * y, a(), Input("b", 2.0, 0.3))
    assert result.bend == approx(math.sqrt(0.5) * math.hypot(0.18, 0.18) / (1.2 * math.sqrt(2)), rel=1e-6)


def test_a_product_bends_by_its_mixed_derivative() -> None:
    u = math.hypot(5 * 0.3, 2 * 0.4)
    assert seen(lambda x, y: x * y, a(), B).bend == approx(0.3 * 0.4 / u, rel=1e-6)


def test_a_product_of_zeros_has_no_first_order_at_all() -> None:
    zero = [Input("a", 0.0, 1.0), Input("b", 0.0, 1.0)]
    assert seen(lambda x, y: x * y, *zero).bend == INF
    assert seen(lambda x, y: x * x - y * y, *zero).bend == INF
    assert seen(lambda x, y: 4.0, *zero).bend == 0


@pytest.mark.parametrize(
    ("function", "third"),
    [
        (lambda x, y: x**3 - 12 * x + 12 * x + y, "own"),
        (lambda x, y: x + y + 3 * (x - 2) * (y - 5) ** 2, "first"),
        (lambda x, y: x + y + 3 * (x - 2) ** 2 * (y - 5), "second"),
    ],
)
def test_third_order_enters_the_variance(function: Any, third: str) -> None:
    """JCGM 100, 5.1.2, note: f_i f_ijj u_i² u_j² summed, here against u² and beside the second order."""
    result = seen(function, a(), B)
    if third == "own":  # f' = 12, f''' = 6; second order: f'' = 12
        u2 = (12 * 0.3) ** 2 + 0.4**2
        assert result.bend == approx(math.sqrt(0.5) * 12 * 0.09 / math.sqrt(u2), rel=1e-4)
        return
    u2 = 0.3**2 + 0.4**2
    correction = 6 * 0.3**2 * 0.4**2  # 1 · f_ijj u_i² u_j² with f_ijj = 6, twice over one half
    assert result.bend == approx(correction / 2 / u2 * 2 / 2, rel=1e-4)


def test_a_pure_cubic_term_is_seen() -> None:
    """x + (x - 2)³: f''' = 6, correction of u²: f' f''' u⁴ = 6 u⁴; of u: half of it."""
    assert seen(lambda x: x + (x - 2) ** 3, a()).bend == approx(3 * 0.3**2, rel=2e-3)


def test_no_finite_value_beside_the_estimate_is_bent() -> None:
    result = seen(lambda x: np.sqrt(x - 1.9) if isinstance(x, np.ndarray) else math.sqrt(x - 1.9), a())
    assert result.bend == INF
    assert result.bent


def test_an_arcsine_is_not_left() -> None:
    """Its limits are √2 u away; a function that ends there is still sound."""
    item = Input.limits("a", 0.0, 1.0, shape="arcsine")
    assert seen(lambda x: np.sqrt(1.0 - np.clip(x, -2, 2) ** 2 * (1 - 1e-12)) + 10 * x, item).bend < 1
    assert seen(lambda x: np.sqrt(1.0 - np.clip(x, -2, 2) ** 2) + 10 * x, Input("a", 0.0, item.u)).bend == INF


def test_exact_inputs_cost_no_points() -> None:
    calls = []

    def function(x: Any, y: Any) -> Any:
        calls.append(np.shape(x))
        return x * y

    seen(function, a(), Input.exact("b", 3.0))
    assert calls[-1] == (2,)
    calls.clear()
    seen(function, a(), B)
    assert calls[-1] == (8,)


def test_nothing_to_look_at() -> None:
    assert screen(Estimate(1.0, 0.5, INF)) == (0.0, 0.0)
    assert seen(lambda x: x, Input.exact("a", 1.0)) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("item", "excess"),
    [
        (Input.limits("x", 0.0, 1.0), -1.2),
        (Input.limits("x", 0.0, 1.0, shape="triangular"), -0.6),
        (Input.limits("x", 0.0, 1.0, shape="arcsine"), -1.5),
        (Input.trapezoid("x", 0.0, 1.0, 1.0), -1.2),
        (Input.trapezoid("x", 0.0, 1.0, 0.0), -0.6),
        (Input.inexact_limits("x", 0.0, 1.0, 0.0), -1.2),
        (Input("x", 0.0, 1.0), 0.0),
        (Input("x", 0.0, 1.0, 4.0, "t"), 0.0),
    ],
)
def test_excess_of_a_shape(item: Input, excess: float) -> None:
    result = seen(lambda x: 2 * x, item)
    assert result.excess == approx(excess)
    assert result.odd is (excess < -0.3)


@pytest.mark.parametrize(
    "item",
    [
        Input.trapezoid("x", 0.0, 1.0, 0.4),
        Input.inexact_limits("x", 0.0, 1.0, 0.5),
        Input.inexact_limits("x", 0.0, 1.0, 1.0),
    ],
)
def test_excess_of_drawn_shapes(item: Input) -> None:
    drawn = monte_carlo(Budget(lambda x: x, [item]), trials=400_000)
    errors = drawn.errors()
    assert seen(lambda x: x, item).excess == approx(np.mean(errors**4) / drawn.u**4 - 3, abs=0.02)


@pytest.mark.parametrize(("share", "odd"), [(0.49, False), (0.51, True)])
def test_a_rectangle_with_half_the_variance_is_odd(share: float, odd: bool) -> None:
    result = seen(
        lambda x, y: x + y, Input("x", 0.0, math.sqrt(share), INF, "rectangular"), Input("y", 0.0, math.sqrt(1 - share))
    )
    assert result.excess == approx(-1.2 * share**2)
    assert result.odd is odd


def random_sum(seed: int) -> list[Input]:
    """One to four inputs of random shapes and sizes."""
    bits = np.random.default_rng(seed)
    terms: list[Input] = []
    for shape in bits.choice(["rectangular", "triangular", "arcsine", "normal"], size=bits.integers(1, 5)):
        terms.append(Input(f"x{len(terms)}", 0.0, float(bits.uniform(0.1, 1.0)), INF, shape))
    return terms


@pytest.mark.parametrize("seed", range(25))
def test_intervals_of_straight_sums_lie_within_the_widths(seed: int) -> None:
    budget = Budget(lambda *x: sum(x), random_sum(seed))
    trials, excess = monte_carlo(budget, trials=200_000), screen(budget.evaluate()).excess
    for coverage, risk in ((0.95, 0.05), (0.99, 0.05), (0.999, 0.01), (0.6, 0.3)):
        narrow, wide = widths(coverage, risk, excess)
        low, high = trials.interval(coverage)
        k = (high - low) / 2 / trials.u / coverage_factor(coverage, INF)
        assert narrow <= k <= wide
        low, high = trials.interval(1 - 2 * risk)
        assert narrow <= (high - low) / 2 / trials.u / -normal_quantile(risk) <= wide


def test_widths_of_no_excess_are_those_of_the_allowance() -> None:
    assert widths(0.99, 0.05, 0.0) == approx((0.95, 1.05))
    assert widths(0.99, 0.5, -1.5)[0] == approx(0.95 * math.sqrt(2) * math.cos(math.pi * 0.005) / 2.5758293, rel=1e-6)


@settings(deadline=None, max_examples=50)
@given(st.floats(0.01, 2.0), st.floats(0.01, 2.0), st.floats(-3.0, 3.0))
def test_second_order_of_any_quadratic(ux: float, uy: float, c: float) -> None:
    """x + x² + c x y + y² about 0, u by moments of normal inputs: exact."""
    shift = ux**2 + uy**2
    spread = math.sqrt(2 * ux**4 + 2 * uy**4 + (c * ux * uy) ** 2)
    result = seen(lambda x, y: x + x * x + c * x * y + y * y, Input("x", 0.0, ux), Input("y", 0.0, uy))
    assert result.bend == approx(max(shift, spread) / ux, rel=1e-4, abs=1e-6)


def test_a_function_for_floats_alone_is_refused() -> None:
    with pytest.raises(NumberError, match="no if"):
        seen(lambda x: x if x > 0 else 0.0, a())


def test_third_order_terms_add_with_their_signs() -> None:
    """x + y - (x-2)³ + 3 (x-2)(y-5)² + 5 (x-2)²(y-5): Σ f_i f_ijj u_i² u_j² / 2."""

    def function(x: Any, y: Any) -> Any:
        p, q = x - 2, y - 5
        return x + y - p**3 + 3 * p * q**2 + 5 * p**2 * q

    ux, uy = 0.03, 0.04
    half = 0.5 * (-6 * ux**4 + 6 * ux**2 * uy**2 + 10 * uy**2 * ux**2)
    result = seen(function, Input("x", 2.0, ux), Input("y", 5.0, uy))
    assert result.bend == approx(half / (ux**2 + uy**2), rel=2e-2)


@pytest.mark.parametrize("form", [0.1, 0.4, 0.8])
def test_excess_of_a_trapezoid_is_that_of_scipy(form: float) -> None:
    law = stats.trapezoid(0.5 - form / 2, 0.5 + form / 2)
    assert seen(lambda x: x, Input.trapezoid("x", 0.0, 1.0, form)).excess == approx(float(law.stats("k")), abs=1e-9)


def test_widths_where_a_rectangle_lies_farther_out_than_an_arcsine() -> None:
    """At 80 % the rectangle's k is 0.8 √3 against 1.2816; at 60 % the arcsine's is √2 cos(0.2 π) against 0.8416."""
    assert widths(0.8, 0.5, -1.2) == approx((0.95, 1.05 * 0.8 * math.sqrt(3) / 1.2815516))
    assert widths(0.6, 0.5, -1.5)[1] == approx(1.05 * math.sqrt(2) * math.cos(0.2 * math.pi) / 0.8416212)
    assert widths(0.9999, 0.5, -0.75)[0] == approx(0.95 * 2 / 3.8905919)
