"""The screen must see a function that bends, and let a straight one pass."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget, Estimate, Input, bend

approx: Any = pytest.approx
INF = math.inf


def seen(function: Any, *inputs: Input) -> Any:
    return bend(Budget(function, inputs).evaluate())


def a(u: float = 0.3, **more: Any) -> Input:
    return Input("a", 2.0, u, **more)


B = Input("b", 5.0, 0.4)


def test_a_straight_function_does_not_bend() -> None:
    result = seen(lambda x, y: 3 * x - 7 * y + 1, a(), B)
    assert result == approx(0.0, abs=1e-9)


def test_shift_of_the_mean_by_a_square() -> None:
    """x²: f'' u² / 2 = u² = 0.09 and √2 u² = 0.127 of second order, against u = 2 x u = 1.2."""
    assert seen(lambda x: x * x, a()) == approx(math.sqrt(2) * 0.09 / 1.2, rel=1e-6)


def test_shift_may_be_larger_than_the_second_order() -> None:
    """Ten squares shift by 10 u², their second order grows with √10 alone."""
    inputs = [Input(f"x{n}", 2.0, 0.3) for n in range(10)]
    assert seen(lambda *x: sum(i * i for i in x), *inputs) == approx(0.9 / (1.2 * math.sqrt(10)), rel=1e-6)


def test_opposite_shifts_cancel_but_their_spread_stays() -> None:
    result = seen(lambda x, y: x * x - y * y, a(), Input("b", 2.0, 0.3))
    assert result == approx(math.sqrt(0.5) * math.hypot(0.18, 0.18) / (1.2 * math.sqrt(2)), rel=1e-6)


def test_a_product_bends_by_its_mixed_derivative() -> None:
    u = math.hypot(5 * 0.3, 2 * 0.4)
    assert seen(lambda x, y: x * y, a(), B) == approx(0.3 * 0.4 / u, rel=1e-6)


def test_a_product_of_zeros_has_no_first_order_at_all() -> None:
    zero = [Input("a", 0.0, 1.0), Input("b", 0.0, 1.0)]
    assert seen(lambda x, y: x * y, *zero) == INF
    assert seen(lambda x, y: x * x - y * y, *zero) == INF
    assert seen(lambda x, y: 4.0, *zero) == 0


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
        assert result == approx(math.sqrt(0.5) * 12 * 0.09 / math.sqrt(u2), rel=1e-4)
        return
    u2 = 0.3**2 + 0.4**2
    correction = 6 * 0.3**2 * 0.4**2  # 1 · f_ijj u_i² u_j² with f_ijj = 6, twice over one half
    assert result == approx(correction / 2 / u2 * 2 / 2, rel=1e-4)


def test_a_pure_cubic_term_is_seen() -> None:
    """x + (x - 2)³: f''' = 6, correction of u²: f' f''' u⁴ = 6 u⁴; of u: half of it."""
    assert seen(lambda x: x + (x - 2) ** 3, a()) == approx(3 * 0.3**2, rel=2e-3)


def test_no_finite_value_beside_the_estimate_is_bent() -> None:
    result = seen(lambda x: np.sqrt(x - 1.9) if isinstance(x, np.ndarray) else math.sqrt(x - 1.9), a())
    assert result == INF


def test_an_arcsine_is_not_left() -> None:
    """Its limits are √2 u away; a function that ends there is still sound."""
    item = Input.limits("a", 0.0, 1.0, shape="arcsine")
    assert seen(lambda x: np.sqrt(1.0 - np.clip(x, -2, 2) ** 2 * (1 - 1e-12)) + 10 * x, item) < 1
    assert seen(lambda x: np.sqrt(1.0 - np.clip(x, -2, 2) ** 2) + 10 * x, Input("a", 0.0, item.u)) == INF


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
    assert bend(Estimate(1.0, 0.5, INF)) == 0
    assert seen(lambda x: x, Input.exact("a", 1.0)) == 0


@settings(max_examples=50)
@given(st.floats(0.01, 2.0), st.floats(0.01, 2.0), st.floats(-3.0, 3.0))
def test_second_order_of_any_quadratic(ux: float, uy: float, c: float) -> None:
    """x + x² + c x y + y² about 0, u by moments of normal inputs: exact."""
    shift = ux**2 + uy**2
    spread = math.sqrt(2 * ux**4 + 2 * uy**4 + (c * ux * uy) ** 2)
    result = seen(lambda x, y: x + x * x + c * x * y + y * y, Input("x", 0.0, ux), Input("y", 0.0, uy))
    assert result == approx(max(shift, spread) / ux, rel=1e-4, abs=1e-6)


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
    assert result == approx(half / (ux**2 + uy**2), rel=2e-2)
