"""The law of Monte Carlo trials against the t distribution it should reproduce, and against closed forms."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats as scipy_stats

from rigproof.errors import NumberError
from rigproof.uncertainty import RULES, Empirical, Rule, Student, Tolerance, decide_by

stats: Any = scipy_stats  # it has no types
approx: Any = pytest.approx

INF = math.inf
GRID = (np.arange(200_000) + 0.5) / 200_000
LAWS = {dof: Empirical(stats.t(dof).ppf(GRID), 1.0) for dof in (8.0, INF)}  # what perfect trials would give
SKEWED = Empirical(-np.log1p(-GRID) - 1.0, 1.0)  # exponential about its mean

numbers = st.floats(-4.0, 4.0)
tolerances = st.one_of(
    st.tuples(numbers, st.floats(0.0, 8.0)).map(lambda t: Tolerance(t[0], t[0] + t[1])),
    numbers.map(lambda limit: Tolerance(limit, None)),
    numbers.map(lambda limit: Tolerance(None, limit)),
)


@settings(max_examples=200)
@given(
    numbers, st.sampled_from([8.0, INF]), st.floats(0.3, 2.0), tolerances, st.sampled_from(RULES), st.floats(0.005, 0.4)
)
def test_perfect_trials_decide_like_their_distribution(
    value: float, dof: float, u: float, tolerance: Tolerance, rule: str, risk: float
) -> None:
    judged: Any = Rule(rule, risk)  # type: ignore[arg-type]
    one = decide_by(value, Student(u, dof), tolerance, judged)
    other = decide_by(value, LAWS[dof].scaled(u), tolerance, judged)
    assert other.conformance_probability == approx(one.conformance_probability, abs=1e-5)
    assert other.rejection_lower == approx(one.rejection_lower, abs=2e-3) or one.rejection_lower is None
    assert other.rejection_upper == approx(one.rejection_upper, abs=2e-3) or one.rejection_upper is None
    if one.acceptance_lower is None and one.acceptance_upper is None:
        near = decide_by(
            value, Student(u, dof), Tolerance(-1e-3 + (tolerance.lower or 0), 1e-3 + (tolerance.upper or 0)), judged
        )
        assert other.acceptance_lower is None or near.acceptance_lower is not None
    elif other.acceptance_lower is not None and other.acceptance_upper is not None:
        assert (other.acceptance_lower, other.acceptance_upper) == approx(
            (one.acceptance_lower, one.acceptance_upper), abs=0.06
        )
    edges = [
        x
        for x in (one.acceptance_lower, one.acceptance_upper, one.rejection_lower, one.rejection_upper)
        if x is not None
    ]
    if edges and min(abs(value - x) for x in edges) > 0.06:
        assert other.finding == one.finding


def test_skewed_trials_have_a_guard_band_at_each_limit() -> None:
    """E = true - measured: exponential less 1. P(E > w) = exp(-1-w), P(E <= -w) = 1 - exp(w-1)."""
    tolerance, rule = Tolerance(0.0, 50.0), Rule(risk=0.05)
    decision = decide_by(49.0, SKEWED, tolerance, rule)
    upper, lower = -math.log(0.05) - 1, 1 + math.log(0.95)
    assert decision.acceptance_upper == approx(50 - upper, abs=1e-3)
    assert decision.acceptance_lower == approx(0 + lower, abs=1e-3)
    assert decision.guard_band == approx(upper, abs=1e-3)  # of the nearer limit
    assert decide_by(1.0, SKEWED, tolerance, rule).guard_band == approx(lower, abs=1e-3)
    assert decision.rejection_upper == approx(50 + lower, abs=1e-3)
    assert decision.rejection_lower == approx(0 - upper, abs=1e-3)
    assert decision.conformance_probability == approx(1 - math.exp(-2), abs=1e-5)
    findings = {
        x: decide_by(x, SKEWED, tolerance, rule).finding for x in (-2.1, -1.9, 0.94, 0.96, 48.0, 48.1, 50.94, 50.96)
    }
    assert findings == {
        -2.1: "reject", -1.9: "undecided", 0.94: "undecided", 0.96: "accept",
        48.0: "accept", 48.1: "undecided", 50.94: "undecided", 50.96: "reject",
    }  # fmt: skip


@pytest.mark.parametrize("value", [-1.0, 0.5, 3.0])
def test_findings_of_trials_follow_the_conformance_probability(value: float) -> None:
    for width in (0.5, 2.0, 6.0):
        for centre in np.linspace(value - 5, value + 5, 101):
            tolerance = Tolerance(float(centre) - width / 2, float(centre) + width / 2)
            decision = decide_by(value, SKEWED, tolerance, Rule(risk=0.1))
            if decision.finding == "accept":
                assert decision.conformance_probability >= 0.9 - 1e-5
            if decision.finding == "reject":
                assert decision.conformance_probability <= 0.1 + 1e-5


def test_a_tolerance_narrower_than_the_trials_accepts_nothing() -> None:
    decision = decide_by(0.0, LAWS[INF], Tolerance(-1.0, 1.0), Rule(risk=0.05))
    assert decision.acceptance_lower is decision.acceptance_upper is None
    assert decision.finding == "undecided"
    assert decision.guard_band == approx(1.96, abs=1e-3)  # the least half width that would do
    open_side = decide_by(-2.0, LAWS[INF], Tolerance(None, 0.0), Rule(risk=0.05))
    assert open_side.acceptance_upper == approx(-1.645, abs=1e-3)


def test_coverage_of_both_laws() -> None:
    assert Student(2.0, 8.0).coverage(0.95) == approx((-2 * stats.t(8).ppf(0.975), 2 * stats.t(8).ppf(0.975)))
    assert SKEWED.coverage(0.9) == approx((-math.log(0.95) - 1, -math.log(0.05) - 1), abs=1e-3)
    assert SKEWED.scaled(3.0).coverage(0.9) == approx((-3 * math.log(0.95) - 3, -3 * math.log(0.05) - 3), abs=3e-3)
    assert SKEWED.scaled(3.0).u == 3.0
    assert Student(2.0, 8.0).scaled(0.5) == Student(1.0, 8.0)


def test_trials_that_all_agree_are_certain() -> None:
    law = Empirical(np.zeros(100), 0.0)
    for value, finding in ((1.0, "accept"), (1.0001, "reject")):
        decision = decide_by(value, law, Tolerance(-1.0, 1.0), Rule())
        assert decision.finding == finding
        assert decision.conformance_probability == float(finding == "accept")


def test_a_computed_tolerance_is_judged_by_guarded_rejection_also_by_trials() -> None:
    lower, upper = SKEWED.coverage(0.99)
    tolerance = Tolerance(-upper, -lower)
    assert decide_by(-upper, SKEWED, tolerance, Rule(), computed=True).finding == "accept"
    assert decide_by(-upper - 0.1, SKEWED, tolerance, Rule(), computed=True).finding == "undecided"
    assert decide_by(-upper - 2.1, SKEWED, tolerance, Rule(), computed=True).finding == "reject"


def test_guard_bands_by_a_multiple_of_the_expanded_uncertainty() -> None:
    """w = r U, U = 2 u (JCGM 106, 8.3.2; ILAC-G8 table 1), for any law."""
    for law in (Student(0.5), Student(0.5, 3.0), LAWS[INF].scaled(0.5)):
        decision = decide_by(0.0, law, Tolerance(-3.0, 3.0), Rule(multiple=0.83))
        assert decision.guard_band == approx(0.83)
        assert (decision.acceptance_lower, decision.acceptance_upper) == approx((-2.17, 2.17))
        assert (decision.rejection_lower, decision.rejection_upper) == approx((-3.83, 3.83))
    rejection = decide_by(3.9, Student(0.5), Tolerance(None, 3.0), Rule("guarded rejection", multiple=1.0))
    assert (rejection.finding, rejection.acceptance_upper, rejection.rejection_upper) == ("undecided", 3.0, 4.0)
    assert decide_by(3.0, Student(0.5), Tolerance(None, 3.0), Rule(multiple=0.0)).finding == "accept"
    assert decide_by(0.0, Student(0.5), Tolerance(-0.5, 0.5), Rule(multiple=1.0)).acceptance_upper is None


def test_certainty_is_one_or_nothing() -> None:
    law = Student(0.0)
    assert [law.between(*limits) for limits in ((-1.0, 1.0), (0.0, 1.0), (-1.0, 0.0), (0.1, 1.0), (-1.0, -0.1))] == [
        1.0, 1.0, 1.0, 0.0, 0.0,
    ]  # fmt: skip


def test_trials_on_a_limit_are_within_it() -> None:
    law = Empirical(np.array([-1.0, 0.0, 0.0, 1.0]), 0.8)
    assert law.between(0.0, 0.0) == 0.5
    assert law.between(-1.0, 0.0) == 0.75
    assert law.between(0.0, 1.0) == 0.75
    assert law.between(-INF, INF) == 1.0
    assert law.between(2.0, 1.0) == 0.0


@pytest.mark.parametrize(("value", "band"), [(45.0, "upper"), (20.0, "lower"), (15.0, "lower")])
def test_the_guard_band_told_is_that_of_the_nearer_limit(value: float, band: str) -> None:
    expected = {"upper": -math.log(0.05) - 1, "lower": 1 + math.log(0.95)}[band]
    assert decide_by(value, SKEWED, Tolerance(10.0, 50.0), Rule()).guard_band == approx(expected, abs=1e-3)


def test_the_guard_band_of_the_only_limit() -> None:
    assert decide_by(0.0, SKEWED, Tolerance(10.0, None), Rule()).guard_band == approx(1 + math.log(0.95), abs=1e-3)
    assert decide_by(0.0, SKEWED, Tolerance(None, 10.0), Rule()).guard_band == approx(-math.log(0.05) - 1, abs=1e-3)


@pytest.mark.parametrize("rule", ["guarded acceptance", "guarded rejection"])
def test_a_value_on_a_rejection_limit_is_rejected(rule: Any) -> None:
    judged, law = Rule(rule, multiple=1.0), Student(0.5)
    assert decide_by(4.0, law, Tolerance(-3.0, 3.0), judged).finding == "reject"
    assert decide_by(-4.0, law, Tolerance(-3.0, 3.0), judged).finding == "reject"
    assert decide_by(math.nextafter(4.0, 0.0), law, Tolerance(-3.0, 3.0), judged).finding == "undecided"


@pytest.mark.parametrize("multiple", [-0.1, math.inf, math.nan])
def test_a_multiple_is_a_magnitude(multiple: float) -> None:
    with pytest.raises(NumberError, match=f"multiple={multiple}: must be finite and >= 0; 1 makes U the guard band"):
        Rule(multiple=multiple)


def test_a_tolerance_is_too_narrow_for_both_bands_together() -> None:
    """Skewed bands of about 0.95 and 2.0: 3.5 is wide enough, though twice the upper one is not."""
    for value, finding in ((-0.78, "undecided"), (-0.76, "accept"), (-0.26, "accept"), (-0.24, "undecided")):
        decision = decide_by(value, SKEWED, Tolerance(-1.75, 1.75), Rule(risk=0.05))
        assert decision.finding == finding
        assert (decision.conformance_probability >= 0.95) is (finding == "accept")
    assert decision.acceptance_lower is not None
    assert decision.acceptance_upper is not None
    assert -0.78 < decision.acceptance_lower < -0.76
    assert -0.26 < decision.acceptance_upper < -0.24


@pytest.mark.parametrize("width", [0.5, 2.9, 3.0, 3.1, 3.5, 5.0, INF])
@pytest.mark.parametrize("mirrored", [False, True])
def test_what_is_accepted_is_what_conforms_surely_enough(width: float, mirrored: bool) -> None:
    """Accepted exactly where the conformance probability is 1 - risk or more, also where the tolerance is narrow.

    The shortest interval with 95 % of an exponential is 2.996 long: below that nothing is accepted.
    """
    law = Empirical(-SKEWED.errors[::-1], 1.0) if mirrored else SKEWED
    accepted = 0
    for value in np.linspace(-8.0, 4.0, 241):
        tolerance = Tolerance(0.0, width) if width < INF else Tolerance(0.0, None)
        decision = decide_by(float(value), law, tolerance, Rule(risk=0.05))
        if abs(decision.conformance_probability - 0.95) > 2e-5:
            assert (decision.finding == "accept") is (decision.conformance_probability > 0.95)
        accepted += decision.finding == "accept"
    assert (accepted > 0) is (width > 2.996)


def test_ties_on_a_limit_conform() -> None:
    """Errors -1, 0 and 1 alike often: at 9.0 the largest true value is the limit itself."""
    law = Empirical(np.repeat([-1.0, 0.0, 1.0], 100), 0.8)
    decision = decide_by(9.0, law, Tolerance(None, 10.0), Rule(risk=0.05))
    assert (decision.conformance_probability, decision.finding) == (1.0, "accept")
    assert decision.acceptance_upper == approx(9.0, abs=1e-9)
    lower = decide_by(11.0, law, Tolerance(10.0, None), Rule(risk=0.05))
    assert (lower.conformance_probability, lower.finding) == (1.0, "accept")
    assert lower.acceptance_lower == approx(11.0, abs=1e-9)
