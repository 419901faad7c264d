from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.uncertainty import (
    Budget,
    Finding,
    Improvement,
    Input,
    Rule,
    Student,
    Tolerance,
    decide,
    decide_by,
    improvement,
)

approx: Any = pytest.approx
LIMIT = Tolerance(None, 10.0)
RULE = Rule()


def total(*x: Any) -> Any:
    return sum(x)


def better(us: list[float], value: float, tolerance: Tolerance = LIMIT, rule: Rule = RULE) -> Improvement:
    estimate = Budget(total, [Input(f"x{n}", value if n == 0 else 0.0, u) for n, u in enumerate(us)]).evaluate()
    return improvement(
        estimate.lines, estimate.u, lambda scale: decide_by(value, Student(scale * estimate.u), tolerance, rule).finding
    )


def test_the_largest_contribution_need_shrink_least() -> None:
    """u = 5, measured 9.0, so that u = 1/1.645 is needed: beyond reach. At 3.0: u = 7/1.645 = 4.255."""
    found = better([4.0, 3.0], 3.0)
    assert found.input == "x0"
    assert found.finding == "accept"
    assert found.factor == approx(math.sqrt((7 / 1.6448536) ** 2 - 9) / 4, rel=1e-4)


def test_no_input_alone_may_do() -> None:
    assert better([4.0, 3.0], 9.0) == Improvement("x0", None, None)


def test_a_value_on_the_limit_stays_undecided_however_good_the_measurement() -> None:
    assert better([4.0], 10.0) == Improvement("x0", None, None)


def test_outside_the_tolerance_the_better_measurement_rejects() -> None:
    found = better([0.3, 4.0], 12.0)
    assert (found.input, found.finding) == ("x1", "reject")
    assert found.factor == approx(math.sqrt((2 / 1.6448536) ** 2 - 0.09) / 4, rel=1e-4)


def test_a_budget_without_uncertainty_has_nothing_to_improve() -> None:
    assert improvement((), 0.0, lambda scale: "undecided") == Improvement("", None, None)
    lines = Budget(total, [Input.exact("a", 1.0)]).evaluate().lines
    assert improvement(lines, 0.0, lambda scale: "undecided") == Improvement("", None, None)


@given(st.lists(st.floats(0.1, 3.0), min_size=1, max_size=5), st.floats(5.0, 15.0), st.floats(0.01, 0.4))
def test_shrinking_the_named_input_decides_and_less_does_not(us: list[float], value: float, risk: float) -> None:
    rule = Rule(risk=risk)
    if decide(value, math.hypot(*us), math.inf, LIMIT, rule).finding != "undecided":
        return
    found = better(us, value, LIMIT, rule)
    place = int(found.input[1:])

    def finding(factor: float, of: int) -> Finding:
        shrunk = [u * factor if n == of else u for n, u in enumerate(us)]
        return decide(value, math.hypot(*shrunk), math.inf, LIMIT, rule).finding

    if found.factor is None:
        assert all(finding(1e-6, n) == "undecided" for n in range(len(us)))
        return
    assert finding(found.factor * 0.999, place) == found.finding != "undecided"
    assert finding(min(1.0, found.factor * 1.001 + 1e-4), place) == "undecided"
    for other in range(len(us)):
        assert finding(min(1.0, found.factor * 1.001 + 1e-4), other) == "undecided"  # none gets there with less


def test_one_input_of_unit_uncertainty() -> None:
    """u = 1 and a contribution of 1 are numbers like any other: 1.6449 f = 1."""
    assert better([1.0], 9.0) == Improvement("x0", approx(1 / 1.6448536, rel=1e-4), "accept")


def test_lines_that_contribute_nothing_cannot_be_improved() -> None:
    """As with a u that comes from second order alone."""
    lines = Budget(lambda x: x * x, [Input("a", 0.0, 1.0)]).evaluate().lines
    assert improvement(lines, 0.5, lambda scale: "accept") == Improvement("", None, None)
