"""Which budgets a check runs by Monte Carlo, and what it then rests on."""

from __future__ import annotations

import math
from typing import Any

import pytest

from rigproof.errors import NumberError
from rigproof.uncertainty import (
    Budget,
    Empirical,
    Estimate,
    Finding,
    Input,
    Law,
    Rule,
    Settled,
    Student,
    Tolerance,
    decide_by,
    settle,
    validate,
)
from rigproof.uncertainty.settling import MOST

approx: Any = pytest.approx
INF = math.inf
RULE = Rule()


def settled(function: Any, inputs: list[Input], tolerance: Tolerance, rule: Rule = RULE) -> Settled:
    def found(law: Law, value: float) -> Finding:
        return decide_by(value, law, tolerance, rule).finding

    return settle(Budget(function, inputs).evaluate(), rule, found)


BOX = [Input.limits("a", 10.0, 1.0), Input("b", 0.0, 0.1)]


def add(*x: Any) -> Any:
    return sum(x)


def test_a_normal_budget_is_taken_at_its_word() -> None:
    result = settled(add, [Input("a", 10.0, 1.0), Input("b", 0.0, 0.5, 7.0)], Tolerance(None, 11.5))
    assert (result.method, result.value, result.validation) == ("first order", 10.0, None)
    assert result.law == Student(result.law.u, result.dof)
    assert result.law.u == approx(math.hypot(1, 0.5))


@pytest.mark.parametrize("limit", [20.0, 12.0, 9.0, 8.0])
def test_an_odd_shape_far_from_every_limit_needs_no_trials(limit: float) -> None:
    """u = 0.586, guard band 1.645 u = 0.96."""
    assert settled(add, BOX, Tolerance(None, limit)).validation is None or limit == 9.0


@pytest.mark.parametrize("limit", [10.93, 10.95])
def test_an_odd_shape_is_validated_where_the_finding_hangs_on_it(limit: float) -> None:
    """5 % of rectangle ±1 and normal 0.1 lie beyond 0.905; the normal law says 0.964 and would leave it undecided."""
    result = settled(add, BOX, Tolerance(None, limit))
    assert result.method == "Monte Carlo"
    assert isinstance(result.law, Empirical)
    assert decide_by(result.value, result.law, Tolerance(None, limit), RULE).finding == "accept"
    assert result.validation is not None
    assert not result.validation.valid
    assert len(result.validation.trials.values) <= MOST
    assert result.dof == INF
    assert result.seen.odd
    assert result.value == approx(10.0, abs=0.01)
    assert result.law.u == approx(math.hypot(1 / math.sqrt(3), 0.1), rel=0.01)


def test_a_validated_budget_stays_first_order() -> None:
    """Two rectangles of one size are odd by the screen; at 90 % their triangle is within δ of the normal law.

    Half widths 1: u = 0.816, δ = 0.005; the triangle ends at 2 (1 - √0.1) = 1.3675, the normal law at 1.343. Scaled so
    that u = 1.04 has δ = 0.05, the difference is 0.03.
    """
    half = 1.04 * math.sqrt(1.5)
    inputs = [Input.limits("x", 0.0, half), Input.limits("y", 0.0, half)]
    result = settled(add, inputs, Tolerance(None, 1.04 * 1.66), Rule(coverage=0.90))
    assert result.seen.odd
    assert result.validation is not None
    assert result.validation.valid
    assert result.validation.off_upper == approx(1.04 / 0.816497 * 0.0245, abs=0.015)
    assert (result.method, result.value, result.law) == ("first order", 0.0, Student(result.law.u, INF))
    assert result.law.u == approx(1.04)


def test_strong_bending_is_validated_whatever_the_finding() -> None:
    result = settled(lambda x: x * x, [Input("x", 1.0, 0.5)], Tolerance(-1e6, 1e6))
    assert result.method == "Monte Carlo"
    assert result.value == approx(1.25, abs=0.02)
    assert result.law.u == approx(math.sqrt(1 + 2 * 0.0625), rel=0.02)


def test_slight_bending_is_validated_only_where_the_finding_hangs_on_it() -> None:
    """x² at 1 with u 0.1: bend 0.07, the ends at 99 % shift by some 0.33 u."""
    square, inputs = lambda x: x * x, [Input("x", 1.0, 0.1)]
    assert settled(square, inputs, Tolerance(None, 2.0)).validation is None
    assert settled(square, inputs, Tolerance(None, 1.33)).validation is not None
    assert settled(square, inputs, Tolerance(None, 1.0 + 0.2 * (1.645 + 0.4))).validation is None


def test_no_uncertainty_no_trials() -> None:
    assert settled(add, [Input.exact("a", 1.0)], Tolerance(None, 1.0)).validation is None


def test_an_estimate_without_a_budget_is_taken_as_it_is() -> None:
    estimate = Estimate(1.0, 0.5, 7.0)
    result = settle(estimate, RULE, lambda law, value: "undecided")
    assert (result.method, result.law, result.validation) == ("first order", Student(0.5, 7.0), None)
    with pytest.raises(NumberError, match=r"estimate without a budget: .* take what Budget\.evaluate gave"):
        validate(estimate)


def test_settling_gives_the_same_bits_again() -> None:
    one, again = (settled(add, BOX, Tolerance(None, 10.93)) for _ in range(2))
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


@pytest.mark.parametrize(("limit", "validated"), [(11.5, False), (10.975, True), (11.02, False)])
def test_no_more_is_left_open_than_a_shape_may_do(limit: float, validated: bool) -> None:
    """Guard band of the normal law 0.964: with u doubled or a tenth wider 11.5 and 11.02 would count as doubtful."""
    assert (settled(add, BOX, Tolerance(None, limit)).validation is not None) is validated


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize(("distance", "validated"), [(0.25, False), (0.28, True), (0.36, True), (0.402, False)])
def test_slight_bending_may_shift_the_value_to_either_side(side: float, distance: float, validated: bool) -> None:
    """±x² at 1, u of x 0.1: guard band 0.329, shift 0.2 · 0.0707 · 2.5758² / √2 = 0.0663."""
    limit = side * (1.0 + distance)
    tolerance = Tolerance(None, limit) if side > 0 else Tolerance(limit, None)
    result = settled(lambda x: side * x * x, [Input("x", 1.0, 0.1)], tolerance, Rule("guarded acceptance", 0.05))
    hangs = abs(distance - 0.329) < 0.0663
    assert hangs is validated
    assert (result.validation is not None) is validated
    assert result.seen.bend == approx(0.1 / math.sqrt(2) * 1.0, rel=1e-4)


def test_a_validation_is_at_95_percent_unless_said() -> None:
    assert validate(Budget(add, BOX).evaluate(), most=1).trials.coverage == 0.95


WIDE = Input("b", 0.0, 3.0, shape="rectangular")


@pytest.mark.parametrize(
    ("other", "method"),
    [
        (Input("three readings", 10.0, 0.1, 2.0, "t"), "first order"),  # Student's t of 2 dof has no standard deviation
        (Input("two readings", 10.0, 0.1, 1.0, "t"), "first order"),
        (Input("an old estimate", 10.0, 0.1, 2.0, "normal"), "first order"),
        (Input("four readings", 10.0, 0.1, 3.0, "t"), "Monte Carlo"),
        (Input("a bit more", 10.0, 0.1, 2.5, "t"), "Monte Carlo"),
        (Input("limits", 10.0, 0.1, 2.0, "rectangular"), "Monte Carlo"),
        (Input("exact", 10.0, 0.0, 2.0, "t"), "Monte Carlo"),
    ],
)
def test_too_few_readings_stay_with_first_order(other: Input, method: str) -> None:
    """A rectangle of ±5.2 rules: 95 % end 4.68 from the middle, where the normal law asks for 4.94 or more."""
    result = settled(add, [other, WIDE], Tolerance(None, 14.8))
    assert result.method == method
    assert (result.validation is None) == (method == "first order")


def test_one_input_of_few_readings_is_enough_to_stay() -> None:
    few, many = Input("few", 10.0, 0.1, 2.0, "t"), Input("many", 0.0, 0.1, 50.0, "t")
    assert settled(add, [few, many, WIDE], Tolerance(None, 14.8)).method == "first order"
