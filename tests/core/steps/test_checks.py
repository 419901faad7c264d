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
from rigproof.uncertainty import Budget, Estimate, Input, Rule, Tolerance
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
    assert (check.method, check.finding, check.dof) == ("first order, inputs convolved", "accept", None)
    assert check.guard_band == pytest.approx(0.9e-6, rel=1e-4)
    assert "Monte Carlo" not in "; ".join(words.sentences(check))


def test_the_same_check_gives_the_same_bytes() -> None:
    once, again = (specified(4.07e-6, [Input("a", 0.0, 5.8e-7, shape="rectangular")], 5e-6) for _ in range(2))
    assert once.model_dump_json() == again.model_dump_json()


def test_a_computed_tolerance_is_the_interval_of_the_difference() -> None:
    """99 % of a normal law lie within 2.576 u (Fisher and Yates); of a rectangle within 0.99 of its half width."""
    normal = compared(10.0, Input("part", 10.0, 1.0))
    assert normal.tolerance.upper == pytest.approx(10 + 2.5758, rel=1e-4)
    box = compared(11.73, Input("part", 10.0, 1.0, shape="rectangular"))
    assert box.tolerance.upper == pytest.approx(10 + 0.99 * math.sqrt(3), rel=1e-4)
    assert box.finding == "undecided"
    assert compared(11.70, Input("part", 10.0, 1.0, shape="rectangular")).finding == "accept"


def test_a_skew_expectation_has_a_skew_tolerance() -> None:
    """Expected: x², x normal about 0 with u = 1, a chi-squared law of one degree of freedom."""
    rng = np.random.default_rng(1)
    reading = Term(lambda x: x, (Input("reading", 0.0, 1e-3),))
    square = Term(lambda x: x * x, (Input("x", 0.0, 1.0),))
    check = agreement_check(RECORD, ABOUT, reading, square, RULE, "computed")
    assert check.method == "Monte Carlo"
    assert "by Monte Carlo" in "; ".join(words.sentences(check))
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
    assert f"improve first: large, to {100 * needed:.2g} % of its u: accept at this reading" in "; ".join(
        words.sentences(check)
    )


def test_an_input_that_alone_decides_nothing_is_named_without_a_promise() -> None:
    check = specified(4.9, [Input("large", 0.0, 1.0), Input("small", 0.0, 0.9)], 5.0)
    assert (check.improve, check.improve_to, check.would_be) == ("large", None, None)
    assert "; ".join(words.sentences(check)).endswith("improve first: large")


def test_a_tolerance_too_wide_to_tell_names_what_to_narrow() -> None:
    """U = 2.576 of an expected 10 is beyond the 20 % that tell anything; 2/2.576 of it would be within."""
    reading, part = Term(lambda x: x, (Input("reading", 10.0, 0.0),)), Term(lambda x: x, (Input("part", 10.0, 1.0),))
    check = agreement(RECORD, ABOUT, reading, part, RULE, "computed")
    assert (check.finding, check.improve, check.would_be) == ("undecided", "part", "accept")
    assert check.improve_to == pytest.approx(2 / 2.5758, rel=1e-3)


# -- what a check says of itself ----------------------------------------------------------------------------------


def test_measured_expected_and_their_difference_have_each_their_own_u() -> None:
    """u of the difference is no root sum of squares: the gain that both share drops out of it."""
    gain = Input("gain", 0.0, 0.3)
    reading = Term(lambda x, g: x + g, (Input("reading", 10.0, 0.4), gain))
    expected = Term(lambda x, g: x + g, (Input("part", 9.0, 1.2), gain))
    check = agreement_check(RECORD, ABOUT, reading, expected, RULE, "computed")
    assert (check.measured, check.expected, check.difference) == (10.0, 9.0, 1.0)
    assert check.u == pytest.approx(0.5)
    assert check.u_expected == pytest.approx(math.hypot(1.2, 0.3))
    assert check.u_difference == check.u_decides == pytest.approx(math.hypot(0.4, 1.2))
    assert (check.U, check.k, check.coverage) == pytest.approx((2.5758 * math.hypot(0.4, 1.2), 2.5758, 0.99), rel=1e-4)
    assert check.conformance_probability is None
    said = "; ".join(words.sentences(check))
    assert said.startswith("measured 10000000 µε, u 500000 µε; expected 9000000(1236932) µε; difference 1000000 ± ")
    assert said.endswith("(computed); agreement within U, 99 %")


@pytest.mark.parametrize("reading", [9.0, 10.0, 11.72, 12.0, 14.0])
def test_a_tolerance_does_not_move_with_the_reading(reading: float) -> None:
    """It used to be 9 % wider where the finding did not hang on its shape."""
    check = compared(reading, Input("part", 10.0, 1.0, shape="rectangular"), u_measured=0.1)
    at_rest = compared(10.0, Input("part", 10.0, 1.0, shape="rectangular"), u_measured=0.1)
    assert (check.tolerance, check.U, check.method) == (at_rest.tolerance, at_rest.U, at_rest.method)


@pytest.mark.parametrize(
    ("rule", "said", "guards"),
    [
        (Rule(), "guarded acceptance, risk 5 %", "acceptance"),
        (Rule(risk=0.025), "guarded acceptance, risk 2.5 %", "acceptance"),
        (Rule(multiple=1.0), "guarded acceptance, guard band 1 U with U = 2 u", "acceptance"),
        (Rule("guarded rejection"), "guarded rejection, risk 5 %", "rejection"),
        (Rule("simple acceptance"), "simple acceptance, shared risk", ""),
    ],
)
def test_a_check_names_the_rule_it_was_judged_by(rule: Rule, said: str, guards: str) -> None:
    check = specified(0.0, [Input("a", 0.0, 1e-6)], 5e-6, rule)
    assert (check.rule, check.guards) == (said, guards)
    agreed = compared(10.0, Input("part", 10.0, 1.0), rule)
    assert (agreed.rule, agreed.guards) == ("agreement within U, 99 %", "rejection")


def test_where_u_goes_with_the_reading_the_guard_band_is_that_at_the_limit() -> None:
    def at(value: float) -> Estimate:
        return Budget(lambda x, gain: x * (1 + gain), [Input.exact("x", value), Input("gain", 0.0, 0.05)]).evaluate()

    checks = [
        specified_check(RECORD, ABOUT, at(read), Tolerance(1e9, None), RULE, "procedure: x", at_limit=at(1e9))
        for read in (1.05e9, 2e10)
    ]
    for check, read in zip(checks, (1.05e9, 2e10), strict=True):
        assert check.acceptance_lower == pytest.approx(1e9 * (1 + 1.6449 * 0.05), rel=1e-5)
        assert check.u == pytest.approx(0.05 * read)
        assert check.u_limit == check.u_decides == pytest.approx(0.05e9)
        assert check.measured == read
    assert [check.finding for check in checks] == ["undecided", "accept"]


def test_a_budget_line_says_its_shape_and_where_it_comes_from() -> None:
    item = Input("lead", 0.8, 0.1 / math.sqrt(3), 1e9, "rectangular", "", 0.0, "0.8 Ω ± 0.1 Ω", "rig.yaml: lead")
    check = specified(0.0, [item, Input("certificate", 0.0, 0.1, unit="Ω")], 5.0)
    first, second = check.budget
    assert (first.shape, first.unit) == ("rectangular", "1")
    assert first.half_width == pytest.approx(0.1)
    assert (first.stated, first.source, first.dof) == ("0.8 Ω ± 0.1 Ω", "rig.yaml: lead", None)
    assert (second.shape, second.half_width, second.unit) == ("normal", None, "Ω")
    assert check.unit == "1"
