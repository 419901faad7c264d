"""Least-squares fits with the uncertainty of what they predict (JCGM 100, H.3), on centred and scaled data.

All assume y scatters with one standard deviation and x is known far better than y. `x` and `y` have shape (n,);
results carry the units of y, and of y over powers of x.
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
from rigproof.uncertainty.statistics import FloatArray, finite_row, mean_and_deviations, total

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
