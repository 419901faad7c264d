from __future__ import annotations

import math
from dataclasses import FrozenInstanceError
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats as scipy_stats

from rigproof.errors import NumberError
from rigproof.uncertainty import (
    correlation_time,
    coverage_factor,
    drift,
    fit_line,
    fit_polynomial,
    fit_polynomial_through_origin,
    fit_through_origin,
)

stats: Any = scipy_stats  # it has no types
approx: Any = pytest.approx  # compares with any shape of numbers


def parabola(x: Any, y: Any) -> Any:
    return fit_polynomial(x, y, 2)


X = [0.0, 1.0, 2.0, 4.0, 5.0, 7.0]
Y = [0.1, 0.9, 2.2, 3.9, 5.2, 6.9]


def test_line_against_scipy() -> None:
    line, other = fit_line(X, Y), stats.linregress(X, Y)
    assert (line.intercept, line.slope) == approx((other.intercept, other.slope), rel=1e-13)
    assert np.sqrt(np.diag(line.covariance)) == approx([other.intercept_stderr, other.stderr], rel=1e-12)
    assert line.dof == 4
    assert line.residuals == approx(np.array(Y) - [line.at(x).value for x in X], abs=1e-14)
    assert line.s == approx(math.sqrt(float(np.sum(line.residuals**2)) / 4), rel=1e-14)


def test_correlation_of_intercept_and_slope() -> None:
    """From the normal equations: -mean(x)/√mean(x²), whatever y."""
    expected = -np.mean(X) / math.sqrt(np.mean(np.square(X)))
    assert fit_line(X, Y).correlation == approx(expected, rel=1e-12)


def test_fits_are_frozen_hold_nothing_else_and_compare_as_objects() -> None:
    for fit, same in [(fitted(X, Y), fitted(X, Y)) for fitted in (fit_line, fit_through_origin, parabola)]:
        assert not hasattr(fit, "__dict__")
        with pytest.raises(FrozenInstanceError):
            setattr(fit, "s", 0.0)  # noqa: B010 - mypy knows that it cannot be
        assert len({fit, same}) == 2  # arrays inside have no one answer to ==


@pytest.mark.parametrize("x", [-3.0, 0.0, 2.5, 40.0])
def test_predictions_equal_those_from_the_covariance(x: float) -> None:
    line, curve = fit_line(X, Y), fit_polynomial(X, Y, 2)
    for fit, powers in ((line, np.array([1, x])), (curve, np.array([1, x, x * x]))):
        assert fit.at(x).u == approx(math.sqrt(powers @ fit.covariance @ powers), rel=1e-9)
        assert fit.at(x).dof == fit.dof
    assert curve.at(x).value == approx(np.polyval(curve.coefficients[::-1], x), rel=1e-12)


def test_polynomial_against_numpy() -> None:
    curve = fit_polynomial(X, Y, 3)
    coefficients, covariance = np.polyfit(X, Y, 3, cov=True)
    assert curve.coefficients == approx(coefficients[::-1], rel=1e-10)
    assert curve.covariance == approx(covariance[::-1, ::-1], rel=1e-9)
    assert curve.dof == 2


def test_degree_one_is_the_line() -> None:
    line, curve = fit_line(X, Y), fit_polynomial(X, Y, 1)
    assert curve.coefficients == approx([line.intercept, line.slope], rel=1e-12)
    assert curve.covariance == approx(line.covariance, rel=1e-12)
    assert curve.at(3.3).u == approx(line.at(3.3).u, rel=1e-12)


@settings(max_examples=50)
@given(st.floats(-1e6, 1e6), st.floats(-1e3, 1e3), st.floats(-1e6, 1e6))
def test_predictions_bear_any_origin(offset: float, slope: float, height: float) -> None:
    """Times since an epoch, temperatures in K: a shift of x and y moves the line and nothing else."""
    shifted = fit_line(np.array(X) + offset, np.array(Y) + height)
    plain = fit_line(X, Y)
    assert shifted.slope == approx(plain.slope, rel=1e-8)
    assert shifted.at(2.5 + offset).value == approx(plain.at(2.5).value + height, rel=1e-12, abs=1e-8)
    assert shifted.at(2.5 + offset).u == approx(plain.at(2.5).u, rel=1e-7)
    tilted = fit_line(X, np.array(Y) + slope * np.array(X))
    assert tilted.slope == approx(plain.slope + slope, rel=1e-11, abs=1e-11)
    assert tilted.s == approx(plain.s, rel=1e-8)


def test_through_origin() -> None:
    line = fit_through_origin([1.0, 2.0], [2.1, 3.9])
    assert line.slope == approx(9.9 / 5)
    assert (line.dof, line.s) == (1.0, approx(math.sqrt(0.12**2 + 0.06**2)))
    assert line.u == approx(line.s / math.sqrt(5))
    at = line.at(-3.0)
    assert (at.value, at.u, at.dof) == (approx(-5.94), approx(3 * line.u), 1.0)


def test_through_origin_against_numpy() -> None:
    (slope,), (squares,), *_ = np.linalg.lstsq(np.array(X)[:, np.newaxis], np.array(Y))
    line = fit_through_origin(X, Y)
    assert (line.slope, line.s, line.dof) == approx((slope, math.sqrt(squares / 5), 5.0), rel=1e-12)


def test_points_on_a_line_have_no_scatter() -> None:
    line = fit_line([0.0, 1.0, 2.0], [1.0, 3.0, 5.0])
    assert (line.intercept, line.slope, line.s, line.correlation) == (1.0, 2.0, 0.0, 0.0)


def test_coverage_by_simulation() -> None:
    """95 % intervals of slope and of the line at x = 10, 1,000 times six points, σ = 0.2 about 0.1 + 1.0 x."""
    rng = np.random.default_rng(41)
    hits = np.zeros(2)
    for _ in range(1000):
        line = fit_line(X, 0.1 + np.array(X) + rng.normal(0, 0.2, len(X)))
        k = stats.t.ppf(0.975, line.dof)
        hits += (
            abs(line.slope - 1.0) <= k * math.sqrt(line.covariance[1, 1]),
            abs(line.at(10).value - 10.1) <= k * line.at(10).u,
        )
    assert hits / 1000 == approx([0.95, 0.95], abs=0.02)


@pytest.mark.parametrize(
    ("fit", "x", "y", "message"),
    [
        (fit_line, [1.0, 2.0], [1.0, 2.0], "x: n=2: at least 3 are needed"),
        (fit_line, [1.0, 2.0, 3.0], [1.0, 2.0], "y: n=2: at least 3"),
        (fit_line, [1.0, 2.0, 3.0, 4.0], [1.0, 2.0, 3.0], "x has 4 points, y has 3: both must be of one length"),
        (fit_line, [2.0, 2.0, 2.0], [1.0, 2.0, 3.0], "x has 1 different values: the fit needs 2; spread the points"),
        (fit_line, [1e9, math.nextafter(1e9, 2e9), 1e9], [1.0, 2.0, 3.0], "x spreads by 1.19e-07 about 1000000000.0"),
        (fit_line, [1.0, math.nan, 3.0], [1.0, 2.0, 3.0], r"x: \[1\]=nan: must be finite"),
        (fit_through_origin, [0.0, 0.0], [1.0, 2.0], "x=0 at all 2 points: .* load the part"),
        (fit_through_origin, [1.0], [1.0], "x: n=1: at least 2"),
        (lambda x, y: fit_polynomial(x, y, 0), [1.0, 2.0], [1.0, 2.0], "degree=0: must be at least 1"),
        (lambda x, y: fit_polynomial(x, y, 2), [1.0, 2.0, 3.0], [1.0, 2.0, 3.0], "x: n=3: at least 4"),
        (lambda x, y: fit_polynomial(x, y, 2), [1.0, 2.0, 1.0, 2.0], [1.0] * 4, "2 different values: the fit needs 3"),
        (
            lambda x, y: fit_polynomial(x, y, 2),
            [0.0, 1.0, math.nextafter(1, 2), 1.0],
            [1.0] * 4,
            "degree=2: the fit is singular over these x; lower the degree",
        ),
    ],
)
def test_refused(fit: Any, x: list[float], y: list[float], message: str) -> None:
    with pytest.raises(NumberError, match=message):
        fit(x, y)


XS = [1.0, 2.0, 3.0, 4.0, 5.0]
YS = [2.1, 3.9, 6.2, 7.8, 10.1]


def test_a_new_reading_adds_its_own_scatter() -> None:
    for fit in (fit_line(XS, YS), fit_polynomial(XS, YS, 2), fit_through_origin(XS, YS)):
        on_fit, one, four = fit.at(2.5), fit.reading_at(2.5), fit.reading_at(2.5, 4)
        assert one.u == approx(math.hypot(on_fit.u, fit.s))
        assert four.u == approx(math.hypot(on_fit.u, fit.s / 2))
        assert (one.value, one.dof) == (on_fit.value, on_fit.dof)
        with pytest.raises(NumberError, match="readings=0: must be at least 1"):
            fit.reading_at(2.5, 0)


def test_inverse_prediction_by_the_textbook_formula() -> None:
    line = fit_line(XS, YS)
    x = line.inverse(7.0, 3)
    sxx, mean = 10.0, 3.0
    expected = line.s / line.slope * math.sqrt(1 / 3 + 1 / 5 + (x.value - mean) ** 2 / sxx)
    assert line.at(x.value).value == approx(7.0, rel=1e-14)
    assert (x.u, x.dof) == (approx(expected), 3.0)


def test_inverse_of_the_other_fits() -> None:
    origin = fit_through_origin(XS, YS)
    x = origin.inverse(7.0)
    assert x.value == approx(7.0 / origin.slope)
    assert x.u == approx(math.hypot(origin.s, x.value * origin.u) / origin.slope)
    falling = fit_through_origin(XS, [-y for y in YS]).inverse(-7.0)
    assert (falling.value, falling.u, falling.dof) == approx((x.value, x.u, 4.0))
    straight, curve = fit_line(XS, YS).inverse(7.0, 2), fit_polynomial(XS, YS, 1).inverse(7.0, 2)
    assert (curve.value, curve.u, curve.dof) == approx((straight.value, straight.u, straight.dof))


def test_inverse_of_a_curve() -> None:
    xs = np.linspace(0, 4, 30)
    bits = np.random.default_rng(1)
    curve = fit_polynomial(xs, xs**2 + 1 + bits.normal(0, 0.01, 30), 2)
    x = curve.inverse(5.0)
    assert x.value == approx(2.0, abs=0.01)
    assert curve.at(x.value).value == approx(5.0, rel=1e-12)
    assert x.u == approx(curve.reading_at(x.value).u / 4.0, rel=0.01)
    assert curve.inverse(curve.at(4.0).value).value == approx(4.0)
    assert curve.inverse(curve.at(0.0).value + 1e-6).value == approx(0.0, abs=0.01)


@pytest.mark.parametrize("ends", [(-2.0, 2.0), (1e6, 5e6)])
@pytest.mark.parametrize("seed", range(10))
def test_inverse_of_a_curve_reaches_both_ends_of_its_range(ends: tuple[float, float], seed: int) -> None:
    """Rounding puts the root a hair outside in every third case."""
    xs, bits = np.linspace(*ends, 9), np.random.default_rng(seed)
    scaled = (xs - xs.mean()) / np.ptp(xs)
    curve = fit_polynomial(xs, scaled + 0.1 * scaled**3 + bits.normal(0, 0.001, 9), 3)
    for end in ends:
        assert curve.inverse(curve.at(end).value).value == approx(end, rel=1e-9)


@pytest.mark.parametrize(("y", "count"), [(-1.0, 0), (30.0, 0), (2.0, 2)])
def test_inverse_of_a_curve_needs_one_point(y: float, count: int) -> None:
    xs = np.linspace(-2, 2, 20)
    with pytest.raises(NumberError, match=f"y={y}: {count} points of the curve between -2.0 and 2.0 have it"):
        fit_polynomial(xs, xs**2, 2).inverse(y)


def test_inverse_coverage_by_simulation() -> None:
    bits = np.random.default_rng(8)
    xs, inside = np.linspace(0, 10, 12), 0
    for _ in range(2000):
        line = fit_line(xs, 1 + 2 * xs + bits.normal(0, 0.3, 12))
        _, expanded = (found := line.inverse(float(15.0 + bits.normal(0, 0.3)))).expanded(0.95)
        inside += abs(found.value - 7.0) <= expanded
    assert inside / 2000 == approx(0.95, abs=0.015)


def test_an_exact_line_has_an_exact_inverse() -> None:
    found = fit_line([0.0, 1.0, 2.0], [0.0, 1.0, 2.0]).inverse(1.5)
    assert (found.value, found.u) == (1.5, 0.0)


def test_a_slope_not_told_from_zero_has_no_inverse() -> None:
    """The limit is the 95 % interval of the slope."""
    xs, noise = np.arange(6.0), np.array([1.0, -1.0, -1.0, 1.0, 0.5, -0.5])
    line = fit_line(xs, noise)
    u = math.sqrt(line.covariance[1, 1])
    for factor, refused in ((0.98, True), (1.02, False)):
        slope = factor * coverage_factor(0.95, 4.0) * u
        tilted = fit_line(xs, noise - line.slope * xs + slope * xs)
        if refused:
            with pytest.raises(NumberError, match="cannot be told from 0, so no x follows from y"):
                tilted.inverse(1.0)
        else:
            tilted.inverse(1.0)
    with pytest.raises(NumberError, match="cannot be told from 0"):
        fit_line(xs, np.ones(6)).inverse(1.0)
    with pytest.raises(NumberError, match="cannot be told from 0"):
        fit_through_origin(xs, noise).inverse(1.0)


def test_drift_of_independent_readings_is_the_line() -> None:
    times = np.arange(50.0)
    bits = np.random.default_rng(2)
    samples = 3 + 0.2 * times + bits.normal(0, 1, 50)
    plain, line = drift(times, samples, autocorrelated=False), fit_line(times, samples)
    assert (plain.value, plain.u, plain.dof) == (line.slope, math.sqrt(line.covariance[1, 1]), 48.0)
    aware = drift(times, samples)
    assert aware.value == plain.value
    assert plain.u <= aware.u < 1.6 * plain.u
    assert aware.dof <= plain.dof
    assert aware.u == approx(plain.u * math.sqrt(plain.dof / aware.dof))


def test_drift_of_readings_that_wander() -> None:
    """First-order autoregressive, r 0.8: a plain line states a third of the scatter that the slopes really have."""
    bits = np.random.default_rng(4)
    times, slopes, plain, aware = np.arange(200.0), [], [], []
    for _ in range(200):
        noise, x = [], float(bits.normal(0, 1 / 0.6))
        for _ in times:
            x = 0.8 * x + float(bits.normal())
            noise.append(x)
        slopes.append(drift(times, noise).value)
        plain.append(drift(times, noise, autocorrelated=False).u)
        aware.append(drift(times, noise).u)
    assert np.mean(plain) < 0.4 * np.std(slopes)
    assert np.mean(aware) == approx(np.std(slopes), rel=0.2)


def test_drift_counts_as_many_readings_as_the_correlation_time_leaves() -> None:
    """Even about the middle, so that the slope is 0 and the residuals add up to exactly 0; their squares to 1."""
    samples = 2 * [0.25, 0.25, -0.25, -0.25, -0.25, -0.25, 0.25, 0.25]
    found, plain = drift(range(16), samples), fit_line(range(16), samples)
    independent = 16 / correlation_time(samples)
    assert 3 < independent < 8
    assert found.dof == approx(independent - 2)
    assert found.u == approx(math.sqrt(plain.covariance[1, 1] * 14 / (independent - 2)))


def test_drift_has_one_degree_of_freedom_at_least() -> None:
    times = np.arange(30.0)
    assert drift(times, np.sin(times / 10)).dof == 1.0
    assert drift(times, 2 * times).u == approx(0.0, abs=1e-12)
    with pytest.raises(NumberError, match="n=3: at least 4 are needed"):
        drift([0, 1, 2], [0, 1, 2])


@pytest.mark.parametrize("degree", [1, 2, 3])
def test_a_polynomial_through_the_origin_is_that_of_numpy(degree: int) -> None:
    """Least squares on the columns x, x², x³ by numpy; covariance s² (AᵀA)⁻¹ (JCGM 100, H.3, for more columns)."""
    rng = np.random.default_rng(7)
    x = np.linspace(0.1, 2.0, 12)
    y = 3 * x - 0.2 * x**2 + 0.01 * rng.standard_normal(12)
    rows = x[:, None] ** np.arange(1, degree + 1)
    by_numpy = np.linalg.lstsq(rows, y, rcond=None)[0]
    fit = fit_polynomial_through_origin(x, y, degree)
    assert fit.coefficients == approx(by_numpy, rel=1e-9)
    s = np.sqrt(np.sum((y - rows @ by_numpy) ** 2) / (12 - degree))
    assert (fit.s, fit.dof) == approx((s, 12 - degree))
    assert fit.residuals == approx(y - rows @ by_numpy, abs=1e-12)
    at = 1.7 ** np.arange(1, degree + 1)
    u = s * np.sqrt(at @ np.linalg.inv(rows.T @ rows) @ at)
    assert (fit.at(1.7).value, fit.at(1.7).u) == approx((at @ by_numpy, u), rel=1e-9)
    assert (fit.at(0.0).value, fit.at(0.0).u) == (0.0, 0.0)


def test_a_curve_through_the_origin_that_cannot_be() -> None:
    with pytest.raises(NumberError, match="degree=0: must be at least 1"):
        fit_polynomial_through_origin([1, 2, 3], [1, 2, 3], 0)
    with pytest.raises(NumberError, match="the fit needs 2"):
        fit_polynomial_through_origin([0, 1, 1], [0, 1, 1], 2)
