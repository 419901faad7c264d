"""Least-squares fits with the uncertainty of what they predict and of what is read off them (JCGM 100, H.3).

On centred and scaled data. All assume y scatters with one standard deviation and x is known far better than y.
`x` and `y` have shape (n,); results carry the units of y, and of y over powers of x.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.polynomial import Legendre
from numpy.polynomial import Polynomial as Powers
from numpy.polynomial.legendre import legvander

from rigproof.errors import NumberError
from rigproof.uncertainty.budget import Estimate
from rigproof.uncertainty.distributions import coverage_factor
from rigproof.uncertainty.statistics import FloatArray, correlation_time, finite_row, mean_and_deviations, total

_SINGULAR = 1e-13  # spread of x over its size, or of pivots, below which rounding decides the fit


@dataclass(frozen=True, slots=True, eq=False)
class StraightLine:
    """y = intercept + slope x. `covariance` has shape (2, 2): of intercept and slope; `s`: of one y about the line."""

    intercept: float
    slope: float
    covariance: FloatArray
    s: float
    dof: float
    residuals: FloatArray
    mean_x: float
    mean_y: float

    @property
    def correlation(self) -> float:
        """Correlation coefficient of intercept and slope, for use in a budget; 0 when both are exact."""
        u_intercept, u_slope = np.sqrt(np.diag(self.covariance))
        return float(self.covariance[0, 1] / (u_intercept * u_slope)) if u_slope > 0 else 0.0

    def at(self, x: float) -> Estimate:
        """The line at `x`, without the scatter of a single new reading (JCGM 100, H.3.4 and H.3.5)."""
        off = x - self.mean_x
        u = math.hypot(self.s / math.sqrt(self.residuals.size), off * math.sqrt(self.covariance[1, 1]))
        return Estimate(self.mean_y + self.slope * off, u, self.dof)

    def reading_at(self, x: float, readings: int = 1) -> Estimate:
        """The mean of so many new readings at `x`: the line and their own scatter s/√readings."""
        return _with_scatter(self.at(x), self.s, readings)

    def inverse(self, y: float, readings: int = 1) -> Estimate:
        """The x at which the mean of so many new readings is `y`, from a line used as calibration.

        u² = s²/slope² (1/readings + 1/n + (x - mean)²/Σ(x_i - mean)²): ISO 11095:1996 and textbooks of linear
        calibration, from memory. Raises NumberError for a slope that cannot be told from 0.
        """
        _refuse_flat(self.slope, math.sqrt(self.covariance[1, 1]), self.dof)
        x = self.mean_x + (y - self.mean_y) / self.slope
        return Estimate(x, self.reading_at(x, readings).u / abs(self.slope), self.dof)


@dataclass(frozen=True, slots=True, eq=False)
class ThroughOrigin:
    """y = slope x; `u` is the standard uncertainty of the slope, `s` that of one y."""

    slope: float
    u: float
    s: float
    dof: float
    residuals: FloatArray

    def at(self, x: float) -> Estimate:
        """The line at `x`, without the scatter of a single new reading."""
        return Estimate(self.slope * x, self.u * abs(x), self.dof)

    def reading_at(self, x: float, readings: int = 1) -> Estimate:
        """The mean of so many new readings at `x`: the line and their own scatter s/√readings."""
        return _with_scatter(self.at(x), self.s, readings)

    def inverse(self, y: float, readings: int = 1) -> Estimate:
        """The x at which the mean of so many new readings is `y`; NumberError for a slope not told from 0."""
        _refuse_flat(self.slope, self.u, self.dof)
        x = y / self.slope
        return Estimate(x, self.reading_at(x, readings).u / abs(self.slope), self.dof)


@dataclass(frozen=True, slots=True, eq=False)
class Polynomial:
    """y = Σ coefficients[k] x^k, ascending; `covariance` of the coefficients, shape (degree+1, degree+1).

    Predictions use the orthogonal basis of the fit (Legendre over the range of x): the powers lose digits.
    """

    coefficients: FloatArray
    covariance: FloatArray
    s: float
    dof: float
    residuals: FloatArray
    basis: Legendre
    basis_root: FloatArray  # covariance of the basis' coefficients is basis_root @ basis_root.T

    def at(self, x: float) -> Estimate:
        """The curve at `x`, without the scatter of a single new reading."""
        row = _basis_rows(np.array([x]), self.basis)[0]
        return Estimate(float(self.basis(x)), float(np.linalg.norm(row @ self.basis_root)), self.dof)

    def reading_at(self, x: float, readings: int = 1) -> Estimate:
        """The mean of so many new readings at `x`: the curve and their own scatter s/√readings."""
        return _with_scatter(self.at(x), self.s, readings)

    def inverse(self, y: float, readings: int = 1) -> Estimate:
        """The x within the range of the fit at which the mean of so many new readings is `y`.

        u is that of `reading_at` over the slope there. Raises NumberError unless exactly one x in the range has it.
        """
        begin, end = (float(edge) for edge in self.basis.domain)
        roots = (self.basis - y).roots()
        slack = 1e-9 * (end - begin)
        real = roots.real[(np.abs(roots.imag) <= slack) & (roots.real >= begin - slack) & (roots.real <= end + slack)]
        if real.size != 1:
            raise NumberError(
                f"y={y!r}: {real.size} points of the curve between {begin!r} and {end!r} have it; the inverse needs "
                "one: stay inside the range of the fit, where the curve only rises or only falls"
            )
        x = float(real[0])
        slope = float(self.basis.deriv()(x))
        if slope == 0:
            raise NumberError(f"y={y!r}: the curve is flat there, at x={x!r}: its x has no uncertainty; move away")
        return Estimate(x, self.reading_at(x, readings).u / abs(slope), self.dof)


def fit_line(x: npt.ArrayLike, y: npt.ArrayLike) -> StraightLine:
    """Straight line through n >= 3 points (JCGM 100, H.3, equations H.13), by deviations from the means."""
    xs, ys = _points(x, y, 3)
    _refuse_alike(xs, 2)
    mean_x, off_x = mean_and_deviations(xs)
    mean_y, off_y = mean_and_deviations(ys)
    squares = total(off_x**2)
    slope = total(off_x * off_y) / squares
    residuals = off_y - slope * off_x
    dof = xs.size - 2.0
    variance = total(residuals**2) / dof
    var_slope = variance / squares
    cov = np.array(
        [[variance / xs.size + mean_x**2 * var_slope, -mean_x * var_slope], [-mean_x * var_slope, var_slope]]
    )
    return StraightLine(mean_y - slope * mean_x, slope, cov, math.sqrt(variance), dof, residuals, mean_x, mean_y)


def fit_through_origin(x: npt.ArrayLike, y: npt.ArrayLike) -> ThroughOrigin:
    """Straight line through the origin and n >= 2 points."""
    xs, ys = _points(x, y, 2)
    squares = total(xs**2)
    if squares == 0:
        raise NumberError(f"x=0 at all {xs.size} points: a line through the origin needs another x; load the part")
    slope = total(xs * ys) / squares
    residuals = ys - slope * xs
    dof = xs.size - 1.0
    s = math.sqrt(total(residuals**2) / dof)
    return ThroughOrigin(slope, s / math.sqrt(squares), s, dof, residuals)


def fit_polynomial(x: npt.ArrayLike, y: npt.ArrayLike, degree: int) -> Polynomial:
    """Polynomial of `degree` >= 1 through n >= degree + 2 points, at least degree + 1 of different x.

    QR decomposition in Legendre polynomials over the range of x, then turned into powers of x.
    """
    if degree < 1:
        raise NumberError(f"degree={degree}: must be at least 1; a mean is no fit")
    xs, ys = _points(x, y, degree + 2)
    _refuse_alike(xs, degree + 1)
    domain = [float(xs.min()), float(xs.max())]
    rows = _basis_rows(xs, Legendre.basis(degree, domain=domain))
    q, r = np.linalg.qr(rows)
    pivots = np.abs(np.diag(r))
    if pivots.min() <= _SINGULAR * pivots.max():
        raise NumberError(f"degree={degree}: the fit is singular over these x; lower the degree or spread the points")
    fitted = np.linalg.solve(r, q.T @ ys)
    residuals = ys - rows @ fitted
    dof = float(xs.size - degree - 1)
    s = math.sqrt(total(residuals**2) / dof)
    root = s * np.linalg.inv(r)
    to_powers = _to_powers(degree, domain)
    powers_root = to_powers @ root
    basis = Legendre(fitted, domain=domain)
    return Polynomial(to_powers @ fitted, powers_root @ powers_root.T, s, dof, residuals, basis, root)


@dataclass(frozen=True, slots=True, eq=False)
class PolynomialThroughOrigin:
    """y = Σ coefficients[k] x^(k+1), ascending from the linear one: a curve that is 0 at 0.

    Predictions use the orthogonal basis of y/x; `basis_root` as in `Polynomial`.
    """

    coefficients: FloatArray
    s: float
    dof: float
    residuals: FloatArray
    basis: Legendre
    basis_root: FloatArray

    def at(self, x: float) -> Estimate:
        """The curve at `x`, without the scatter of a single new reading."""
        row = x * _basis_rows(np.array([x]), self.basis)[0]
        return Estimate(x * float(self.basis(x)), float(np.linalg.norm(row @ self.basis_root)), self.dof)


def fit_polynomial_through_origin(x: npt.ArrayLike, y: npt.ArrayLike, degree: int) -> PolynomialThroughOrigin:
    """Polynomial of `degree` >= 1 without a constant through the origin and n >= degree + 1 points.

    Least squares of y, as in `fit_polynomial`; the points need `degree` different x that are not 0.
    """
    if degree < 1:
        raise NumberError(f"degree={degree}: must be at least 1; a curve through the origin needs a slope")
    xs, ys = _points(x, y, degree + 1)
    _refuse_alike(xs[xs != 0], degree)
    domain = [min(0.0, float(xs.min())), max(0.0, float(xs.max()))]
    rows = xs[:, None] * _basis_rows(xs, Legendre.basis(degree - 1, domain=domain))
    q, r = np.linalg.qr(rows)
    pivots = np.abs(np.diag(r))
    if pivots.min() <= _SINGULAR * pivots.max():
        raise NumberError(f"degree={degree}: the fit is singular over these x; lower the degree or spread the points")
    fitted = np.linalg.solve(r, q.T @ ys)
    residuals = ys - rows @ fitted
    dof = float(xs.size - degree)
    s = math.sqrt(total(residuals**2) / dof)
    powers = _to_powers(degree - 1, domain) @ fitted
    return PolynomialThroughOrigin(
        powers, s, dof, residuals, Legendre(fitted, domain=domain), s * np.asarray(np.linalg.inv(r))
    )


def drift(times: npt.ArrayLike, samples: npt.ArrayLike, *, autocorrelated: bool = True) -> Estimate:
    """Slope of `samples` over `times`, both of shape (n,), n >= 4, with its uncertainty.

    With `autocorrelated` the residuals, taken at about even times, count as n/`correlation_time` independent ones,
    three at least, as in `statistics.mean_and_u`: slow wander is not mistaken for many witnesses of a drift.
    """
    row = finite_row(samples, 4)
    line = fit_line(times, row)
    squares = total(line.residuals**2)
    if not autocorrelated or squares == 0:
        return Estimate(line.slope, math.sqrt(line.covariance[1, 1]), line.dof)
    independent = max(3.0, row.size / correlation_time(line.residuals))
    dof = independent - 2.0
    return Estimate(line.slope, math.sqrt(line.covariance[1, 1] * line.dof / dof), dof)


def _with_scatter(on_fit: Estimate, s: float, readings: int) -> Estimate:
    if readings < 1:
        raise NumberError(f"readings={readings}: must be at least 1; a reading that was not taken has no scatter")
    return Estimate(on_fit.value, math.hypot(on_fit.u, s / math.sqrt(readings)), on_fit.dof)


def _refuse_flat(slope: float, u: float, dof: float) -> None:
    """NumberError for a slope whose 95 % interval holds 0: the inverse has then no finite interval (Fieller)."""
    if abs(slope) <= coverage_factor(0.95, dof) * u:
        raise NumberError(
            f"slope={slope!r} with u={u!r}: cannot be told from 0, so no x follows from y; spread the points"
        )


def _points(x: npt.ArrayLike, y: npt.ArrayLike, at_least: int) -> tuple[FloatArray, FloatArray]:
    xs, ys = finite_row(x, at_least, "x"), finite_row(y, at_least, "y")
    if xs.size != ys.size:
        raise NumberError(f"x has {xs.size} points, y has {ys.size}: both must be of one length; pair them up")
    return xs, ys


def _refuse_alike(x: FloatArray, needed: int) -> None:
    """NumberError unless `x` has `needed` different values and their spread is more than rounding."""
    different = np.unique(x).size
    if different < needed:
        raise NumberError(f"x has {different} different values: the fit needs {needed}; spread the points")
    if np.ptp(x) <= _SINGULAR * np.abs(x).max():
        raise NumberError(
            f"x spreads by {np.ptp(x):.3g} about {float(x[0])!r}: too little for a fit; spread the points"
        )


def _basis_rows(x: FloatArray, basis: Legendre) -> FloatArray:
    """The Legendre polynomials of `basis` at `x`, shape (len(x), degree + 1)."""
    offset, scale = basis.mapparms()
    return np.array(legvander(offset + scale * x, basis.degree()), dtype=np.float64)


def _to_powers(degree: int, domain: list[float]) -> FloatArray:
    """The matrix that turns coefficients of Legendre polynomials over `domain` into coefficients of powers of x."""
    matrix = np.zeros((degree + 1, degree + 1))
    for k in range(degree + 1):
        powers = Legendre.basis(k, domain=domain).convert(kind=Powers).coef
        matrix[: powers.size, k] = powers
    return matrix
