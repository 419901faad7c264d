"""One check: what it rests on, what would decide it, and what a computed tolerance is made of."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rigproof.models import Numbers
from rigproof.steps.checks import Subject, agreement_check, specified_check
from rigproof.steps.guard import agreement
from rigproof.steps.record import StepRecord
from rigproof.steps.terms import Term
from rigproof.uncertainty import Budget, Input, Rule, Tolerance
from rigproof.verdict import words
from rigproof.verdict.record import Check

RECORD = StepRecord(1, "balance", ())
ABOUT = Subject("drift", "hoop", "strain")
RULE = Rule()


def specified(value: float, inputs: list[Input], limit: float, rule: Rule = RULE) -> Check:
    def function(*values: Numbers) -> Numbers:
        return value + sum(values)

    return specified_check(
        RECORD, ABOUT, Budget(function, inputs).evaluate(), Tolerance(-limit, limit), rule, "procedure: x"
    )


def compared(measured: float, expected: Input, rule: Rule = RULE, u_measured: float = 0.0) -> Check:
    reading = Term(lambda x: x, (Input("reading", measured, u_measured),))
    return agreement_check(RECORD, ABOUT, reading, Term(lambda x: x, (expected,)), rule, "computed")


def test_a_normal_budget_is_judged_by_first_order() -> None:
    check = specified(0.0, [Input("a", 0.0, 1e-6)], 5e-6)
    assert (check.method, check.finding, check.improve) == ("first order", "accept", "")
    assert check.guard_band == pytest.approx(1.6449e-6, rel=1e-3)  # one-sided 95 % of the normal law


def test_a_rectangle_that_the_finding_hangs_on_is_judged_by_its_own_shape() -> None:
    """Limits ±1 µε: 95 % of the rectangle end 0.9 µε from the middle, the normal law would ask for 0.95 µε."""
    check = specified(4.07e-6, [Input("a", 0.0, 1e-6 / math.sqrt(3), shape="rectangular")], 5e-6)
    assert (check.method, check.finding, check.dof) == ("Monte Carlo", "accept", None)
    assert check.guard_band == pytest.approx(0.9e-6, rel=0.02)
    assert "by Monte Carlo" in words.sentence(check)


def test_the_same_check_gives_the_same_bytes() -> None:
    once, again = (specified(4.07e-6, [Input("a", 0.0, 5.8e-7, shape="rectangular")], 5e-6) for _ in range(2))
    assert once.model_dump_json() == again.model_dump_json()


def test_a_computed_tolerance_is_the_interval_of_the_difference() -> None:
    """99 % of a normal law lie within 2.576 u (Fisher and Yates); of a rectangle within 0.99 of its half width."""
    normal = compared(10.0, Input("part", 10.0, 1.0))
    assert normal.tolerance.upper == pytest.approx(10 + 2.5758, rel=1e-4)
    box = compared(11.73, Input("part", 10.0, 1.0, shape="rectangular"))
    assert box.method == "Monte Carlo"
    assert box.tolerance.upper == pytest.approx(10 + 0.99 * math.sqrt(3), rel=0.003)
    assert box.finding == "undecided"
    assert compared(11.70, Input("part", 10.0, 1.0, shape="rectangular")).finding == "accept"


def test_a_skew_expectation_has_a_skew_tolerance() -> None:
    """Expected: x², x normal about 0 with u = 1, a chi-squared law of one degree of freedom."""
    rng = np.random.default_rng(1)
    reading = Term(lambda x: x, (Input("reading", 0.0, 1e-3),))
    square = Term(lambda x: x * x, (Input("x", 0.0, 1.0),))
    check = agreement_check(RECORD, ABOUT, reading, square, RULE, "computed")
    assert check.method == "Monte Carlo"
    lower, upper = check.tolerance.lower, check.tolerance.upper
    assert lower is not None
    assert upper is not None
    assert check.measured == 0.0
    assert check.expected == pytest.approx(1.0, abs=0.02)  # the mean of x², not the square of the mean
    low, high = np.quantile(rng.standard_normal(10**6) ** 2, [0.005, 0.995])
    assert upper == pytest.approx(high, rel=0.05)
    assert lower == pytest.approx(low, abs=0.01)


def test_an_undecided_check_names_the_input_and_how_well_it_must_be_known() -> None:
    """Value 4, limit 5, u² = 1² + 0.3²: accepted where 1.645 u <= 1, so the large input must shrink to 0.53."""
    check = specified(4.0, [Input("large", 0.0, 1.0), Input("small", 0.0, 0.3)], 5.0)
    assert (check.finding, check.improve, check.would_be) == ("undecided", "large", "accept")
    needed = math.sqrt((1 / 1.6449) ** 2 - 0.3**2)
    assert check.improve_to == pytest.approx(needed, rel=1e-3)
    better = specified(4.0, [Input("large", 0.0, 0.999 * needed), Input("small", 0.0, 0.3)], 5.0)
    assert better.finding == "accept"
    assert f"improve first: large, to {100 * needed:.2g} % of its u: accept at this reading" in words.sentence(check)


def test_an_input_that_alone_decides_nothing_is_named_without_a_promise() -> None:
    check = specified(4.9, [Input("large", 0.0, 1.0), Input("small", 0.0, 0.9)], 5.0)
    assert (check.improve, check.improve_to, check.would_be) == ("large", None, None)
    assert words.sentence(check).endswith("improve first: large")


def test_a_tolerance_too_wide_to_tell_names_what_to_narrow() -> None:
    """U = 2.576 of an expected 10 is beyond the 20 % that tell anything; 2/2.576 of it would be within."""
    reading, part = Term(lambda x: x, (Input("reading", 10.0, 0.0),)), Term(lambda x: x, (Input("part", 10.0, 1.0),))
    check = agreement(RECORD, ABOUT, reading, part, RULE, "computed")
    assert (check.finding, check.improve, check.would_be) == ("undecided", "part", "accept")
    assert check.improve_to == pytest.approx(2 / 2.5758, rel=1e-3)
