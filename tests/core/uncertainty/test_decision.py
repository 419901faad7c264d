from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats as scipy_stats

from rigproof.errors import NumberError
from rigproof.uncertainty import RULES, Rule, Tolerance, conformance_probability, decide, mean_and_u

stats: Any = scipy_stats  # it has no types

INF = math.inf
ROUNDING = 1e-8  # scipy's t distribution is off by 3e-9 near its middle
UNIT = Tolerance(-1.0, 1.0)

numbers = st.floats(-5.0, 5.0)
uncertainties = st.floats(1e-6, 5.0)
dofs = st.sampled_from([1.0, 2.5, 6.0, 30.0, INF])
risks = st.floats(1e-4, 0.5)
tolerances = st.one_of(
    st.tuples(numbers, numbers).map(lambda limits: Tolerance(min(limits), max(limits))),
    numbers.map(lambda limit: Tolerance(limit, None)),
    numbers.map(lambda limit: Tolerance(None, limit)),
)


def probability(value: float, u: float, dof: float, tolerance: Tolerance) -> float:
    """Conformance probability by scipy."""
    law = stats.t(dof, value, u) if dof < INF else stats.norm(value, u)
    below = 0.0 if tolerance.lower is None else law.cdf(tolerance.lower)
    above = 0.0 if tolerance.upper is None else law.sf(tolerance.upper)
    return float(1 - below - above)


@given(numbers, uncertainties, dofs, tolerances)
def test_conformance_probability(value: float, u: float, dof: float, tolerance: Tolerance) -> None:
    p = conformance_probability(value, u, dof, tolerance)
    assert p == pytest.approx(probability(value, u, dof, tolerance), abs=ROUNDING)
    assert 0 <= p <= 1


def test_small_conformance_probabilities_keep_their_digits() -> None:
    assert conformance_probability(21.0, 1.0, INF, UNIT) == pytest.approx(stats.norm.sf(20), rel=1e-9)


@given(numbers, uncertainties, dofs, tolerances, risks)
def test_guarded_acceptance(value: float, u: float, dof: float, tolerance: Tolerance, risk: float) -> None:
    decision = decide(value, u, dof, tolerance, Rule("guarded acceptance", risk))
    p = decision.conformance_probability
    if decision.finding == "accept":
        assert p >= 1 - risk - ROUNDING
    if decision.finding == "reject":
        assert p <= risk + ROUNDING
    if decision.finding == "undecided":
        assert p < 1 - risk + ROUNDING


@given(uncertainties, dofs, tolerances, risks)
def test_conformance_probability_on_the_limits(u: float, dof: float, tolerance: Tolerance, risk: float) -> None:
    """Exactly 1 - risk on an acceptance limit, also when both limits of a narrow tolerance act."""
    decision = decide(0.0, u, dof, tolerance, Rule("guarded acceptance", risk))
    for limit in (decision.acceptance_lower, decision.acceptance_upper):
        if limit is not None:
            assert probability(limit, u, dof, tolerance) == pytest.approx(1 - risk, abs=ROUNDING)
            assert decide(limit, u, dof, tolerance, Rule("guarded acceptance", risk)).finding == "accept"
    if decision.acceptance_lower is None and decision.acceptance_upper is None:
        assert tolerance.lower is not None
        assert tolerance.upper is not None
        middle = (tolerance.lower + tolerance.upper) / 2
        assert probability(middle, u, dof, tolerance) < 1 - risk + ROUNDING
        needed = Tolerance(-decision.guard_band, decision.guard_band)
        assert probability(0.0, u, dof, needed) == pytest.approx(1 - risk, abs=ROUNDING)


@given(uncertainties, dofs, tolerances, risks, st.sampled_from(["guarded acceptance", "guarded rejection"]))
def test_no_conforming_part_is_rejected_more_often_than_risk(
    u: float, dof: float, tolerance: Tolerance, risk: float, rule: Any
) -> None:
    """Exactly `risk` with the true value on a limit; the value rejected conforms with at most that probability."""
    decision = decide(0.0, u, dof, tolerance, Rule(rule, risk))
    law = stats.t(dof) if dof < INF else stats.norm()
    for true in (tolerance.lower, tolerance.upper):
        if true is None:
            continue
        below = 0.0 if decision.rejection_lower is None else law.cdf((decision.rejection_lower - true) / u)
        above = 0.0 if decision.rejection_upper is None else law.sf((decision.rejection_upper - true) / u)
        assert below + above == pytest.approx(risk, abs=ROUNDING)
    for limit in (decision.rejection_lower, decision.rejection_upper):
        if limit is not None:
            assert probability(limit, u, dof, tolerance) <= risk + ROUNDING


@given(numbers, st.floats(0.0, 5.0), dofs, tolerances, st.sampled_from(RULES), risks)
def test_turned_and_scaled(value: float, u: float, dof: float, tolerance: Tolerance, rule: Any, risk: float) -> None:
    """A change of sign and of unit (by a power of two: no rounding) changes no finding."""
    turned = Tolerance(
        None if tolerance.upper is None else -4 * tolerance.upper,
        None if tolerance.lower is None else -4 * tolerance.lower,
    )
    first = decide(value, u, dof, tolerance, Rule(rule, risk))
    second = decide(-4 * value, 4 * u, dof, turned, Rule(rule, risk))
    assert first.finding == second.finding
    assert first.conformance_probability == pytest.approx(second.conformance_probability, abs=1e-12)
    assert second.guard_band == pytest.approx(4 * first.guard_band, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "finding"),
    [(0.83, "accept"), (0.84, "undecided"), (1.0, "undecided"), (1.16, "undecided"), (1.17, "reject")],
)
def test_findings_of_guarded_acceptance(value: float, finding: str) -> None:
    """u = 0.1, w = 0.1645."""
    assert decide(value, 0.1, INF, UNIT, Rule()).finding == finding
    assert decide(-value, 0.1, INF, UNIT, Rule()).finding == finding


@pytest.mark.parametrize(
    ("value", "finding"),
    [(0.99, "accept"), (1.0, "accept"), (1.01, "undecided"), (1.16, "undecided"), (1.17, "reject")],
)
@pytest.mark.parametrize(("rule", "computed"), [("guarded rejection", False), *[(rule, True) for rule in RULES]])
def test_findings_of_guarded_rejection_and_of_computed_tolerances(
    value: float, finding: str, rule: Any, computed: bool
) -> None:
    decision = decide(value, 0.1, INF, UNIT, Rule(rule), computed=computed)
    assert decision.finding == finding
    assert (decision.acceptance_lower, decision.acceptance_upper) == (-1.0, 1.0)
    assert decision.guard_band == pytest.approx(0.16449, abs=1e-5)


@pytest.mark.parametrize(("value", "finding"), [(1.0, "accept"), (-1.0, "accept"), (math.nextafter(1, 2), "reject")])
def test_findings_of_simple_acceptance(value: float, finding: str) -> None:
    decision = decide(value, 0.1, 3.0, UNIT, Rule("simple acceptance"))
    assert decision.finding == finding
    assert decision.guard_band == 0
    assert (decision.acceptance_upper, decision.rejection_upper) == (1.0, 1.0)


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("computed", [False, True])
def test_without_uncertainty_every_rule_is_a_step(rule: Any, computed: bool) -> None:
    for value, finding, p in ((1.0, "accept", 1.0), (math.nextafter(1, 2), "reject", 0.0), (-2.0, "reject", 0.0)):
        decision = decide(value, 0.0, INF, UNIT, Rule(rule), computed=computed)
        assert (decision.finding, decision.conformance_probability, decision.guard_band) == (finding, p, 0.0)


def test_a_tolerance_too_narrow_for_the_measurement_is_never_decided_near_it() -> None:
    """u four times the half width: p_c is small everywhere, yet a value in the middle must not be rejected."""
    decision = decide(0.0, 4.0, INF, UNIT, Rule())
    assert decision.conformance_probability == pytest.approx(0.197, abs=1e-3)
    assert decision.finding == "undecided"
    assert (decision.acceptance_lower, decision.acceptance_upper) == (None, None)
    assert decide(0.0, 1e3, INF, UNIT, Rule()).finding == "undecided"
    assert decide(9.0, 4.0, INF, UNIT, Rule()).finding == "reject"


def test_a_tolerance_just_wide_enough_accepts_its_middle() -> None:
    """u = 0.5: half a width of 1.96 u = 0.98 would do; a guard band of about 0.9 leaves a narrow interval."""
    decision = decide(0.0, 0.5, INF, UNIT, Rule())
    assert decision.finding == "accept"
    assert 0.85 < decision.guard_band < 0.98
    assert decide(0.0, 0.52, INF, UNIT, Rule()).finding == "undecided"


def test_fewer_degrees_of_freedom_widen_the_guard_band() -> None:
    bands = [decide(0.0, 0.01, dof, Tolerance(None, 1.0), Rule()).guard_band for dof in (INF, 30.0, 5.0, 1.0)]
    assert bands == sorted(bands)
    assert bands == pytest.approx([0.01 * stats.t.ppf(0.95, dof) for dof in (1e9, 30, 5, 1)], rel=1e-6)


def test_zero_width() -> None:
    """A computed tolerance can be zero, when nothing is uncertain; with u > 0 both tails share the risk."""
    point = Tolerance(0.0, 0.0)
    assert decide(0.0, 0.0, INF, point, Rule(), computed=True).finding == "accept"
    assert decide(1e-9, 0.0, INF, point, Rule(), computed=True).finding == "reject"
    assert decide(0.0, 1.0, INF, point, Rule()).rejection_upper == pytest.approx(1.959964, abs=1e-6)


def shares(readings: Any, tolerance: Tolerance, rule: Rule) -> dict[str, float]:
    """Shares of the findings over the rows of `readings`, shape (runs, n)."""
    findings = [decide(*mean_and_u(row), tolerance, rule).finding for row in readings]
    return {name: findings.count(name) / len(findings) for name in ("accept", "undecided", "reject")}


def test_coverage_by_simulation() -> None:
    """Five readings of a quantity exactly on its limit, 4,000 times: false accepts and false rejects at the risk, 10 %.

    The standard deviation of such a share is 0.005; the seed is fixed.
    """
    draws = np.random.default_rng(106).normal(1.0, 0.02, (4000, 5))
    got = shares(draws, UNIT, Rule("guarded acceptance", risk=0.10))
    assert got["accept"] == pytest.approx(0.10, abs=0.012)
    assert got["reject"] == pytest.approx(0.10, abs=0.012)
    rejection = shares(draws, UNIT, Rule("guarded rejection", risk=0.10))
    assert rejection["accept"] == pytest.approx(0.5, abs=0.02)
    assert rejection["reject"] == got["reject"]
    simple = shares(draws, UNIT, Rule("simple acceptance"))
    assert simple["accept"] + simple["reject"] == 1.0


def test_coverage_of_a_narrow_tolerance_by_simulation() -> None:
    """Width of 1.5 u: a true value on a limit is still rejected at the risk, through both ends together."""
    draws = np.random.default_rng(107).normal(1.0, 4.0 / 3 * math.sqrt(5), (4000, 5))
    got = shares(draws, UNIT, Rule("guarded acceptance", risk=0.10))
    assert got["accept"] == pytest.approx(0.0, abs=0.03)  # only when the five readings happen to lie close
    assert got["reject"] == pytest.approx(0.10, abs=0.02)


def refused(message: str) -> Any:
    return pytest.raises(NumberError, match=message)


@pytest.mark.parametrize(
    ("limits", "message"),
    [
        ((None, None), "lower=None, upper=None: at least one limit is needed"),
        ((1.0, -1.0), r"lower=1.0, upper=-1.0: must not cross; swap"),
        ((math.nan, 1.0), "lower=nan: must be finite; None stands for an open side"),
        ((None, INF), "upper=inf: must be finite"),
    ],
)
def test_tolerance_refused(limits: tuple[float | None, float | None], message: str) -> None:
    with refused(message):
        Tolerance(*limits)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"rule": "shared risk"}, "rule='shared risk': must be one of guarded acceptance, simple"),
        ({"risk": 0.0}, "risk=0.0: must lie above 0 and up to 0.5, a toss-up; 0.05 stands for 5 %"),
        ({"risk": 0.51}, "risk=0.51"),
        ({"risk": 5.0}, "risk=5.0"),
        ({"risk": math.nan}, "risk=nan"),
        ({"coverage": 1.0}, "coverage=1.0: must lie strictly between 0 and 1"),
        ({"coverage": 99.0}, "coverage=99.0"),
    ],
)
def test_rule_refused(fields: dict[str, Any], message: str) -> None:
    with refused(message):
        Rule(**fields)


@pytest.mark.parametrize(
    ("numbers", "message"),
    [
        ((math.nan, 0.1, INF), "value=nan: must be finite; a reading that is missing cannot be judged"),
        ((INF, 0.1, INF), "value=inf"),
        ((0.0, -0.1, INF), "u=-0.1: a standard uncertainty must be finite and >= 0"),
        ((0.0, math.nan, INF), "u=nan"),
        ((0.0, 0.1, 0.0), "dof=0.0: degrees of freedom must be > 0"),
        ((0.0, 0.1, math.nan), "dof=nan"),
    ],
)
def test_numbers_refused(numbers: tuple[float, float, float], message: str) -> None:
    with refused(message):
        decide(*numbers, UNIT, Rule())


def test_records_are_frozen() -> None:
    decision = decide(0.0, 0.1, INF, UNIT, Rule())
    for record in (decision, UNIT, Rule()):
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(record, dataclasses.fields(record)[0].name, None)
