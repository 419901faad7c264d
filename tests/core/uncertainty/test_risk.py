"""Global risks against scipy's double integrals, and E_n."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate
from scipy import stats as scipy_stats

from rigproof.errors import NumberError
from rigproof.uncertainty import Tolerance, en_number, en_satisfactory, global_risk

stats: Any = scipy_stats  # it has no types
approx: Any = pytest.approx
T, A = Tolerance(-2.0, 2.0), Tolerance(-1.8, 1.8)


def by_bivariate(mean: float, sd: float, u: float, tolerance: Tolerance, acceptance: Tolerance) -> tuple[float, float]:
    """(consumer, producer) from the bivariate normal law of true and measured value."""
    both = stats.multivariate_normal([mean, mean], [[sd**2, sd**2], [sd**2, sd**2 + u**2]])

    def box(t: Tolerance, a: Tolerance) -> float:
        far = 60 * (sd + u)
        low_t, high_t = (t.lower or -far) if t.lower is not None else -far, t.upper if t.upper is not None else far
        low_a, high_a = a.lower if a.lower is not None else -far, a.upper if a.upper is not None else far
        return float(both.cdf([high_t, high_a], lower_limit=[low_t, low_a]))

    everything = Tolerance(None, 60 * (sd + u))
    good_accepted = box(tolerance, acceptance)
    return box(everything, acceptance) - good_accepted, box(tolerance, everything) - good_accepted


@settings(max_examples=40)
@given(
    st.floats(-2.0, 2.0), st.floats(0.3, 3.0), st.floats(0.05, 1.0),
    st.sampled_from([A, T, Tolerance(-2.3, 2.3), Tolerance(None, 1.8), Tolerance(-1.8, None), Tolerance(0.5, 0.6)]),
    st.sampled_from([T, Tolerance(None, 2.0), Tolerance(-2.0, None)]),
)  # fmt: skip
def test_risks_are_those_of_the_bivariate_normal(
    mean: float, sd: float, u: float, acceptance: Tolerance, tolerance: Tolerance
) -> None:
    risk = global_risk(mean, sd, u, tolerance, acceptance)
    assert (risk.consumer, risk.producer) == approx(by_bivariate(mean, sd, u, tolerance, acceptance), abs=2e-5)
    low = -math.inf if tolerance.lower is None else tolerance.lower
    high = math.inf if tolerance.upper is None else tolerance.upper
    assert risk.conforming == approx(stats.norm(mean, sd).cdf(high) - stats.norm(mean, sd).cdf(low), abs=1e-14)


@pytest.mark.parametrize("u", [1e-6, 1e-3, 0.04, 0.5, 20.0, 1e4])
def test_the_quadrature_keeps_its_digits_at_every_ratio_of_u_and_process(u: float) -> None:
    def density(x: float, sign: float) -> float:
        p = stats.norm.cdf((1.8 - x) / u) - stats.norm.cdf((-1.8 - x) / u)
        return float(stats.norm.pdf(x) * (p if sign > 0 else 1 - p))

    def integral(begin: float, end: float, sign: float) -> float:
        edges = sorted({begin, end, *(s * 1.8 + k * u for s in (-1, 1) for k in (-9, -3, 0, 3, 9))})
        edges = [x for x in edges if begin <= x <= end]
        pairs = pairwise(edges)
        return float(sum(integrate.quad(density, a, b, (sign,), epsabs=1e-14, epsrel=1e-12)[0] for a, b in pairs))

    risk = global_risk(0.0, 1.0, u, T, A)
    assert risk.consumer == approx(integral(-10, -2, 1) + integral(2, 10, 1), abs=1e-12)
    assert risk.producer == approx(integral(-2, 2, -1), abs=1e-12)


def test_a_perfect_measurement_leaves_the_guard_band_alone() -> None:
    risk = global_risk(0.0, 1.0, 0.0, T, A)
    assert risk.consumer == 0
    assert risk.producer == approx(2 * (stats.norm.cdf(2.0) - stats.norm.cdf(1.8)), abs=1e-14)
    wide = global_risk(0.0, 1.0, 0.0, T, Tolerance(-2.5, None))
    assert wide.consumer == approx(stats.norm.sf(2.0) + stats.norm.cdf(-2.0) - stats.norm.cdf(-2.5), abs=1e-14)


def test_a_tolerance_beyond_the_process_leaves_nothing_to_consume() -> None:
    risk = global_risk(0.0, 1.0, 0.1, Tolerance(-50.0, 50.0), Tolerance(-1.0, 1.0))
    assert (risk.consumer, risk.conforming) == (0.0, 1.0)
    far = global_risk(0.0, 1.0, 0.1, Tolerance(50.0, 60.0), Tolerance(-1.0, 1.0))
    assert far.producer == far.conforming == 0.0
    assert far.consumer == approx(2 * stats.norm.cdf(1 / math.sqrt(1.01)) - 1, abs=1e-12)


@pytest.mark.parametrize(
    ("numbers", "message"),
    [
        ((0.0, 0.0, 0.1), r"process_sd=0\.0: must be finite and > 0"),
        ((0.0, math.inf, 0.1), "process_sd=inf: must be finite and > 0"),
        ((0.0, 1.0, -0.1), r"u=-0\.1: must be finite and >= 0"),
        ((0.0, 1.0, math.nan), "u=nan: must be finite"),
        ((math.inf, 1.0, 0.1), "process_mean=inf: must be finite; take it from past items"),
    ],
)
def test_risks_of_numbers_outside_their_rule(numbers: tuple[float, float, float], message: str) -> None:
    with pytest.raises(NumberError, match=message):
        global_risk(*numbers, T, A)


def test_en_number() -> None:
    assert en_number(10.5, 10.0, 0.3, 0.4) == approx(1.0)
    assert en_number(9.0, 10.0, 0.6, 0.8) == approx(-1.0)
    assert en_number(11.0, 10.0, 0.5, 0.0) == approx(2.0)


@pytest.mark.parametrize(
    ("en", "good"), [(0.0, True), (1.0, True), (-1.0, True), (1 + 5e-10, True), (1 + 2e-9, False), (-1.001, False)]
)
def test_exactly_one_is_satisfactory(en: float, good: bool) -> None:
    assert en_satisfactory(en) is good


@pytest.mark.parametrize(
    ("numbers", "message"),
    [
        ((math.nan, 1.0, 0.1, 0.1), "value=nan: must be finite"),
        ((1.0, math.inf, 0.1, 0.1), "reference=inf: must be finite"),
        ((1.0, 1.0, -0.1, 0.1), r"expanded=-0\.1: an expanded uncertainty must be finite and >= 0"),
        ((1.0, 1.0, 0.1, math.nan), "expanded_reference=nan: an expanded"),
        ((1.0, 1.0, 0.0, 0.0), "expanded=0 and expanded_reference=0: E_n needs an uncertainty"),
    ],
)
def test_en_of_numbers_outside_their_rule(numbers: tuple[float, ...], message: str) -> None:
    with pytest.raises(NumberError, match=message):
        en_number(*numbers)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_rare_false_acceptance_keeps_its_digits(side: float) -> None:
    """Accepted from 12 to 13 while the process seldom makes above 2: some 1e-24."""
    limits = sorted((12.0 * side, 13.0 * side))
    tolerance = Tolerance(None, 2.0) if side > 0 else Tolerance(-2.0, None)
    risk = global_risk(0.0, 1.0, 0.5, tolerance, Tolerance(*limits))
    both = stats.norm(0, math.hypot(1.0, 0.5))
    assert risk.consumer == approx(both.sf(12.0) - both.sf(13.0), rel=1e-9)  # all of it has a true value beyond 2
