"""Which budgets a check runs by Monte Carlo, and what it then rests on: the budget decides, not the reading."""

from __future__ import annotations

import math
from typing import Any

import pytest

from rigproof.errors import NumberError
from rigproof.uncertainty import (
    Budget,
    Convolved,
    Empirical,
    Estimate,
    Input,
    Settled,
    Student,
    first_order_law,
    settle,
    validate,
)
from rigproof.uncertainty.settling import MOST

approx: Any = pytest.approx
INF = math.inf
BOX = [Input.limits("a", 10.0, 1.0), Input("b", 0.0, 0.1)]


def settled(function: Any, inputs: list[Input], coverage: float = 0.99) -> Settled:
    return settle(Budget(function, inputs).evaluate(), coverage)


def add(*x: Any) -> Any:
    return sum(x)


def test_a_normal_budget_is_taken_at_its_word() -> None:
    result = settled(add, [Input("a", 10.0, 1.0), Input("b", 0.0, 0.5, 7.0)])
    assert (result.method, result.value, result.validation) == ("first order", 10.0, None)
    assert result.law == Student(result.law.u, result.dof)
    assert result.law.u == approx(math.hypot(1, 0.5))


def test_an_odd_shape_is_convolved_without_trials() -> None:
    """5 % of rectangle ±1 and normal 0.1 lie beyond 0.910; the normal law says 0.964."""
    result = settled(add, BOX)
    assert (result.method, result.value, result.validation) == ("first order, inputs convolved", 10.0, None)
    assert isinstance(result.law, Convolved)
    assert result.law.acceptance_bands(0.05, INF)[0] == approx(0.9102, abs=2e-4)
    assert result.law.u == approx(math.hypot(1 / math.sqrt(3), 0.1))


@pytest.mark.parametrize("shift", [0.0, 0.5, 3.0, 100.0])
def test_one_budget_has_one_law_whatever_was_read(shift: float) -> None:
    there = settled(add, [*BOX, Input("reading", shift, 0.05, 49.0, "t")])
    here = settled(add, [*BOX, Input("reading", 0.0, 0.05, 49.0, "t")])
    assert there.law.coverage(0.99) == approx(here.law.coverage(0.99), rel=1e-10)


def test_bending_is_validated_and_replaced() -> None:
    result = settled(lambda x: x * x, [Input("x", 1.0, 0.5)])
    assert result.method == "Monte Carlo"
    assert isinstance(result.law, Empirical)
    assert result.dof == INF
    assert result.value == approx(1.25, abs=0.02)
    assert result.law.u == approx(math.sqrt(1 + 2 * 0.0625), rel=0.02)
    assert result.validation is not None
    assert not result.validation.valid
    assert len(result.validation.trials.values) <= MOST


@pytest.mark.parametrize(("u", "validated"), [(0.06, False), (0.08, True)])
def test_slight_bending_needs_no_trials(u: float, validated: bool) -> None:
    """x² at 1: bend u/√2 against 0.05."""
    assert (settled(lambda x: x * x, [Input("x", 1.0, u)]).validation is not None) is validated


def test_a_validated_budget_stays_first_order_with_its_shape() -> None:
    """Rectangles beside a product of zeros: 0.07 of the variance, too little to move an end by half a digit."""
    inputs = [Input.limits("a", 0.0, 1.8), Input.limits("b", 0.0, 1.0), Input("p", 0.0, 0.3), Input("q", 0.0, 0.4)]
    result = settled(lambda a, b, p, q: a + b + p * q, inputs)
    assert result.method == "first order, inputs convolved"
    assert result.validation is not None
    assert result.validation.valid
    assert isinstance(result.law, Convolved)


def test_no_uncertainty_no_trials() -> None:
    assert settled(add, [Input.exact("a", 1.0)]).validation is None


def test_an_estimate_without_a_budget_is_taken_as_it_is() -> None:
    estimate = Estimate(1.0, 0.5, 7.0)
    result = settle(estimate, 0.99)
    assert (result.method, result.law, result.validation) == ("first order", Student(0.5, 7.0), None)
    with pytest.raises(NumberError, match=r"estimate without a budget: .* take what Budget\.evaluate gave"):
        validate(estimate)


def test_settling_gives_the_same_bits_again() -> None:
    one, again = (settled(lambda x: x * x, [Input("x", 1.0, 0.5)]) for _ in range(2))
    assert (one.value, one.law.u) == (again.value, again.law.u)
    assert one.law.coverage(0.99) == again.law.coverage(0.99)


@pytest.mark.parametrize(("half_width", "valid"), [(0.01, True), (30.0, False)])
def test_validation_compares_both_ends(half_width: float, valid: bool) -> None:
    estimate = Budget(add, [Input("n", 0.0, 1.0), Input.limits("r", 5.0, half_width)]).evaluate()
    found = validate(estimate, 0.95, digits=1 if valid else 2)
    assert found.valid is valid
    assert found.trials.stable
    assert found.off_lower == abs(5.0 - estimate.expanded(0.95)[1] - found.trials.lower)
    assert found.off_upper == abs(5.0 + estimate.expanded(0.95)[1] - found.trials.upper)
    assert found.delta == 0.5


def test_one_end_out_is_enough_to_fail() -> None:
    """A skewed result: one end of the interval may agree by chance."""
    found = validate(Budget(lambda x: x * x, [Input("x", 1.0, 0.2)]).evaluate(), 0.95)
    assert not found.valid
    assert max(found.off_lower, found.off_upper) > found.delta
    shortest = validate(
        Budget(lambda x: x * x, [Input("x", 1.0, 0.2)]).evaluate(), 0.95, shortest=True, most=20_000, seed=3
    )
    assert shortest.trials.shortest
    assert shortest.trials.seed == 3
    assert len(shortest.trials.values) <= 20_000


def test_a_validation_is_at_95_percent_unless_said() -> None:
    assert validate(Budget(add, BOX).evaluate(), most=1).trials.coverage == 0.95


@pytest.mark.parametrize(
    ("other", "method"),
    [
        (Input("three readings", 1.0, 0.5, 2.0, "t"), "first order"),  # Student's t of 2 dof has no standard deviation
        (Input("two readings", 1.0, 0.5, 1.0, "t"), "first order"),
        (Input("an old estimate", 1.0, 0.5, 2.0, "normal"), "first order"),
        (Input("four readings", 1.0, 0.5, 3.0, "t"), "Monte Carlo"),
        (Input("a bit more", 1.0, 0.5, 2.5, "t"), "Monte Carlo"),
        (Input("limits", 1.0, 0.5, 2.0, "rectangular"), "Monte Carlo"),
    ],
)
def test_too_few_readings_stay_with_first_order(other: Input, method: str) -> None:
    """x² bends, and would be run by Monte Carlo."""
    result = settled(lambda x, y: x * x + y, [other, Input("many", 0.0, 0.1, 50.0, "t")])
    assert result.method == method
    assert (result.validation is None) == (method == "first order")


def test_a_validation_against_a_law_of_its_own() -> None:
    """A rectangle: the t law is not its, the convolved one is."""
    estimate = Budget(add, BOX).evaluate()
    assert not validate(estimate, 0.99).valid
    assert validate(estimate, 0.99, law=first_order_law(estimate)).valid
