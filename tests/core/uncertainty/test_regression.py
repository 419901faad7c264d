from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats as scipy_stats

from rigproof.errors import NumberError
from rigproof.uncertainty import fit_line, fit_polynomial, fit_through_origin

stats: Any = scipy_stats  # it has no types
approx: Any = pytest.approx  # compares with any shape of numbers

X = [0.0, 1.0, 2.0, 4.0, 5.0, 7.0]
Y = [0.1, 0.9, 2.2, 3.9, 5.2, 6.9]


def test_line_against_scipy() -> None:
    line, other = fit_line(X, Y), stats.linregress(X, Y)
    assert (line.intercept, line.slope) == approx((other.intercept, other.slope), rel=1e-13)
    assert np.sqrt(np.diag(line.covariance)) == approx([other.intercept_stderr, other.stderr], rel=1e-12)
    assert line.dof == 4
    assert line.residuals == approx(np.array(Y) - [line.at(x).value for x in X], abs=1e-14)
    assert line.s == approx(math.sqrt(float(np.sum(line.residuals**2)) / 4), rel=1e-14)


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


@settings(max_examples=50, deadline=None)
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
