"""The law of a first-order result whose inputs are not all normal: the distribution of their sum, by convolution.

First order is y = Σ c_i x_i. The distribution of such a sum of independent inputs is the convolution of theirs
(JCGM 100, G.1.4 and G.6.5; JCGM 101, 5.2), so that k is none of a normal law that nobody claimed: 1.71 and not 2.58 at
99 % for one rectangle. The characteristic function of the sum is the product of those of c_i x_i, and the inversion of
J. Gil-Pelaez (Biometrika 38, 1951, 481-482, from memory), on a grid a Fourier series, gives the distribution function.

Where all inputs are normal or t, Welch and Satterthwaite stay as they are (JCGM 100, G.4).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from rigproof.uncertainty.budget import Estimate
from rigproof.uncertainty.correlation import independent_components
from rigproof.uncertainty.distributions import t_quantile
from rigproof.uncertainty.inputs import Input
from rigproof.uncertainty.laws import Bands, Law, Student, least_where
from rigproof.uncertainty.sampling import FloatArray

TERMS = 1024  # of the Fourier series: an end of a 99 % interval is then good to 5e-5 u for one rectangle, else better
POINTS = 4 * TERMS  # of the table of tails
REACH = 8.0  # standard uncertainties: a sum of bounded inputs lies beyond with 3e-14 at most (Hoeffding)
FAR = 1e-7  # of a t part so much may lie beyond the table
DECIMALS = 10  # of a tail; beyond them processors differ
# An input with less of the variance than this shows its size and not its shape: k moves by less than 1e-5.
SHAPELESS = 1e-3

NORMAL_FROM = 1e4  # degrees of freedom per share of the variance: with more a t part counts as normal, k to 2e-4
SWINGS = 512  # nodes for an arcsine

NORMAL = ("normal", "t", "exact")


@dataclass(frozen=True, slots=True, eq=False)
class Convolved:
    """A symmetric law as a table: `tails`[n] = P(E > n `step` u), good to 1e-9, n = 0 to POINTS, where it ends."""

    u: float
    tails: FloatArray
    step: float

    def between(self, lower: float, upper: float) -> float:
        """Probability of lower <= E <= upper."""
        near, far = sorted((-lower, upper))
        if near < 0:
            return max(0.0, self._tail(-near) - self._tail(far))
        return 1.0 - self._tail(near) - self._tail(far)

    def acceptance_bands(self, risk: float, width: float) -> Bands:
        """Both alike; when even the middle does not reach 1 - risk, the least half width that would."""
        start, end = self._quantile(risk), self._quantile(risk / 2)
        if 2 * end >= width:
            return end, end
        alone = self._tail(width - start) == 0
        band = start if alone else least_where(lambda w: self._tail(w) + self._tail(width - w) <= risk, start, end)
        return band, band

    def rejection_bands(self, risk: float, width: float) -> Bands:
        """Both alike."""
        start, end = self._quantile(risk), self._quantile(risk / 2)
        alone = self._tail(width + start) == 0
        band = start if alone else least_where(lambda w: self._tail(w) + self._tail(width + w) <= risk, start, end)
        return band, band

    def coverage(self, coverage: float) -> Bands:
        """-U and U."""
        expanded = self._quantile(0.5 - 0.5 * coverage)
        return -expanded, expanded

    def scaled(self, factor: float) -> Convolved:
        """The same shape."""
        return Convolved(self.u * factor, self.tails, self.step)

    def _tail(self, x: float) -> float:
        """P(E > x) for x >= 0."""
        place = x / (self.u * self.step)
        if place >= POINTS:
            return 0.0
        n = int(place)
        return float(self.tails[n] + (place - n) * (self.tails[n + 1] - self.tails[n]))

    def _quantile(self, tail: float) -> float:
        """The x >= 0 with P(E > x) = `tail`, which is at most 1/2."""
        n = int(np.searchsorted(-self.tails, -tail))
        if n == 0:
            return 0.0
        above, below = float(self.tails[n - 1]), float(self.tails[n])
        return (n - 1 + (above - tail) / (above - below)) * self.step * self.u


def first_order_law(estimate: Estimate) -> Law:
    """The law of the errors of a first-order result: by convolution, or t where no input has another shape.

    It stays t for an input of two or three readings, whose law has no standard deviation, for limits with degrees
    of freedom, and where a correlated input is not normal: then nothing says what the sum is like. Below 1 ms.
    """
    budget, u = estimate.budget, estimate.u
    if budget is None or u == 0:
        return Student(u, estimate.dof)
    linked = {name for pair in budget.correlations for name in pair[:2]}
    shaped, rest = [], []
    for line, item in zip(estimate.lines, budget.inputs, strict=True):
        odd = item.shape not in NORMAL and item.u > 0
        unlike = odd and (item.name in linked or item.dof < math.inf)
        if unlike or (item.u > 0 and item.shape in ("normal", "t") and item.dof <= 2):
            return Student(u, estimate.dof)
        if odd and line.share >= SHAPELESS:
            shaped.append((item, line.contribution / u))
        else:
            rest.append((item, line.sensitivity))
    if not shaped:
        return Student(u, estimate.dof)
    if budget.correlations:
        components = independent_components([i for i, _ in rest], [slope for _, slope in rest], budget.correlations)
    else:
        components = [(abs(slope) * item.u, item.dof) for item, slope in rest]
    return _convolve(u, shaped, [Student(part / u, dof) for part, dof in components])


def _convolve(u: float, shaped: Sequence[tuple[Input, float]], rest: Sequence[Student]) -> Convolved:
    """The law of the sum of `shaped` inputs and normal or t parts, all in terms of the sum's own `u`."""
    heavy = [part for part in rest if part.u**2 > part.dof / NORMAL_FROM]
    u_normal = math.hypot(*(part.u for part in rest if part not in heavy))
    reach = REACH - sum(part.u * t_quantile(FAR, part.dof) for part in heavy)
    turns = np.arange(1, TERMS + 1, dtype=np.float64)
    t: FloatArray = turns * (math.pi / reach)
    phi = np.exp(-0.5 * (t * u_normal) ** 2)
    for part in heavy:
        phi *= _of_t(t * part.u, part.dof)
    for item, size in shaped:
        for factor in _of_shape(item, t * size):
            phi *= factor
    # F(x) = 1/2 + x/P + Σ φ(t_n) sin(t_n x)/(π n), P = 2 reach the period
    series = np.zeros(POINTS + 1, dtype=np.complex128)
    series[1 : TERMS + 1] = phi / turns * (-1j * POINTS / math.pi)
    half_waves = np.fft.irfft(series, 2 * POINTS)[: POINTS + 1]
    tails = 0.5 - np.arange(POINTS + 1) / (2 * POINTS) - half_waves
    tails = np.minimum.accumulate(np.round(tails, DECIMALS).clip(0.0, 0.5))
    tails[-1] = 0.0
    return Convolved(u, tails, reach / POINTS)


def _of_shape(item: Input, t: FloatArray) -> Iterator[FloatArray]:
    """Factors of the characteristic function of a shape with u = 1: most are sums of rectangles."""
    match item.shape:
        case "rectangular":
            yield _sinc(t * math.sqrt(3))
        case "triangular":
            yield _sinc(t * math.sqrt(1.5)) ** 2
        case "trapezoid":
            half = math.sqrt(1.5 / (1 + item.form**2))
            yield _sinc(t * half * (1 + item.form))
            if item.form < 1:
                yield _sinc(t * half * (1 - item.form))
        case "arcsine":  # a swing √2 sin(angle), every angle alike
            angles = (np.arange(SWINGS) + 0.5) * (math.pi / SWINGS)
            swings = (math.sqrt(2) * np.cos(angles)).tolist()
            yield _mixture((1 / SWINGS, np.cos(t * swing)) for swing in swings)
        case "curvilinear trapezoid":  # a rectangle whose half width is itself 1 ± form
            nodes, weights = np.polynomial.legendre.leggauss(64)
            half = 1 / math.sqrt(1 / 3 + item.form**2 / 9)
            widths = zip(nodes.tolist(), weights.tolist(), strict=True)
            yield _mixture((0.5 * w, _sinc(t * (half * (1 + item.form * v)))) for v, w in widths)


def _sinc(x: FloatArray) -> FloatArray:
    """The characteristic function of a rectangle of half width 1 at x > 0."""
    quotient: FloatArray = np.sin(x) / x
    return quotient


def _of_t(t: FloatArray, dof: float) -> FloatArray:
    """Characteristic function of a t law of scale 1 at t > 0: a normal one with a variance that scatters as dof/χ².

    ∫ exp(-t²/(2 w)) p(w) dw over w = χ²/dof, by the trapezoidal rule in ln w, where the integrand is smooth and gone
    (e^-20) at both ends.
    """
    a = 40.0 / dof
    logs = np.arange(-a - math.sqrt(2 * a), math.log1p(a + math.sqrt(2 * a)), min(0.35, math.sqrt(0.5 / dof)))
    weights = np.exp(0.5 * dof * (logs - np.exp(logs) + 1))
    weights /= weights.sum()
    widths = zip(logs.tolist(), weights.tolist(), strict=True)
    gone = int(np.searchsorted(t, 8 + 30 / math.sqrt(dof)))  # from there below 1e-13
    found, half = np.zeros_like(t), -0.5 * t[:gone] ** 2
    found[:gone] = _mixture((w, np.exp(half * math.exp(-v))) for v, w in widths if w > 1e-10)
    return found


def _mixture(parts: Iterable[tuple[float, FloatArray]]) -> FloatArray:
    """The weighted sum of functions."""
    total: FloatArray = np.sum([weight * part for weight, part in parts], axis=0)
    return total
