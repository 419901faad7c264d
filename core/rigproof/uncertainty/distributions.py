"""Normal and Student t distributions, with real-valued degrees of freedom (dof = inf: the normal distribution).

Own code, so that judging a record needs no scientific library; the tests compare it with one.
"""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

from rigproof.errors import NumberError

_STANDARD = NormalDist()
_SQRT_HALF = math.sqrt(0.5)
_MANY = 1e4  # degrees of freedom from which the series in 1/dof is exact to rounding
_SMALLEST = 1e-100
_LARGEST = 345.0  # ln of a magnitude whose square is still a float


def probability(name: str, p: float) -> float:
    """`p` itself when it lies strictly between 0 and 1; NumberError otherwise."""
    if 0.0 < p < 1.0:
        return p
    raise NumberError(f"{name}={p!r}: must lie strictly between 0 and 1; 95 % is written 0.95 here")


def normal_cdf(x: float) -> float:
    """P(X <= x) of the standard normal distribution; keeps its relative precision in the lower tail."""
    return 0.5 * math.erfc(-x * _SQRT_HALF)


def normal_quantile(p: float) -> float:
    """The x with normal_cdf(x) = p, for 0 < p < 1."""
    return _STANDARD.inv_cdf(probability("p", p))


def t_cdf(x: float, dof: float) -> float:
    """P(T <= x) of Student's t with `dof` > 0 degrees of freedom (JCGM 100, G.3.2); precise in the lower tail."""
    if not dof > 0:
        raise NumberError(f"dof={dof!r}: degrees of freedom must be > 0; inf stands for the normal distribution")
    if dof == math.inf:
        return normal_cdf(x)
    return 1.0 - _tail(x, dof) if x > 0 else _tail(x, dof)


@lru_cache(maxsize=4096)  # one check asks for the same few again and again
def t_quantile(p: float, dof: float) -> float:
    """The x with t_cdf(x, dof) = p, for 0 < p < 1."""
    if dof == math.inf:
        return normal_quantile(p)
    probability("p", p)
    if not dof > 0:
        raise NumberError(f"dof={dof!r}: degrees of freedom must be > 0; inf stands for the normal distribution")
    return _magnitude(1.0 - p, dof) if p > 0.5 else 0.0 - _magnitude(p, dof)


def coverage_factor(coverage: float, dof: float) -> float:
    """k of the symmetric interval that holds `coverage` of a t distribution (JCGM 100, G.3.4; dof not truncated)."""
    return -t_quantile(0.5 - 0.5 * probability("coverage", coverage), dof)


def t_density(x: float, dof: float) -> float:
    """Probability density of Student's t (JCGM 100, equation G.1)."""
    if dof == math.inf:
        return math.exp(-0.5 * x * x) / math.sqrt(2 * math.pi)
    return math.exp(-0.5 * (dof + 1) * math.log1p(x * x / dof)) * _gamma_ratio(0.5 * dof) / math.sqrt(math.pi * dof)


def f_tail(ratio: float, dof: float, dof_below: float) -> float:
    """P(F >= ratio) of the F distribution, both degrees of freedom finite and > 0 (DLMF 8.17: I_x(ν₂/2, ν₁/2))."""
    for name, number in (("dof", dof), ("dof_below", dof_below)):
        if not 0 < number < math.inf:
            raise NumberError(f"{name}={number!r}: degrees of freedom must be finite and > 0; take more readings")
    if not ratio > 0:
        return 1.0
    if ratio == math.inf:
        return 0.0
    a, b, scale = 0.5 * dof_below, 0.5 * dof, dof_below + dof * ratio
    x, rest = dof_below / scale, dof * ratio / scale
    if x < (a + 1) / (a + b + 2):  # where the continued fraction converges fast
        return _incomplete_beta(a, b, x, rest)
    return 1.0 - _incomplete_beta(b, a, rest, x)


def beta_cdf(x: float, a: float, b: float) -> float:
    """P(X <= x) of the beta distribution, a and b finite and > 0 (DLMF 8.17: I_x(a, b))."""
    for name, number in (("a", a), ("b", b)):
        if not 0 < number < math.inf:
            raise NumberError(f"{name}={number!r}: a parameter of the beta distribution must be finite and > 0")
    if not 0.0 < x < 1.0:
        return float(x >= 1.0)
    if x < (a + 1) / (a + b + 2):  # where the continued fraction converges fast
        return _incomplete_beta(a, b, x, 1.0 - x)
    return 1.0 - _incomplete_beta(b, a, 1.0 - x, x)


def beta_quantile(p: float, a: float, b: float) -> float:
    """The x with beta_cdf(x, a, b) = p, for 0 < p < 1, by halving: good to 1e-15."""
    probability("p", p)
    low, high = 0.0, 1.0
    while low < (middle := 0.5 * (low + high)) < high and high - low > 1e-15:
        low, high = (middle, high) if beta_cdf(middle, a, b) < p else (low, middle)
    return 0.5 * (low + high)


def _incomplete_beta(a: float, b: float, x: float, rest: float) -> float:
    """I_x(a, b) with rest = 1 - x (DLMF 8.17.22)."""
    front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log(rest)
    return math.exp(front) / a * _fraction(a, b, x)


def _tail(x: float, dof: float) -> float:
    """P(T > |x|): I_y(dof/2, 1/2) / 2 with y = dof/(dof + x²) (DLMF 8.17)."""
    square = x * x
    if square == math.inf:
        return 0.0
    if dof >= _MANY:
        return normal_cdf(_as_normal(square, dof))
    a, y, rest = 0.5 * dof, dof / (dof + square), square / (dof + square)
    # y^a (1-y)^(1/2) / B(a, 1/2), common to both forms below
    front = math.exp(-a * math.log1p(square / dof)) * math.sqrt(rest / math.pi) * _gamma_ratio(a)
    if square < 3.0:  # near the middle the complement's fraction converges faster
        return 0.5 - front * _fraction(0.5, a, rest)
    return front * _fraction(a, 0.5, y) / dof


def _as_normal(square: float, dof: float) -> float:
    """Standard normal deviate (<= 0) of the same tail as -√square, for many dof.

    G. W. Hill, Algorithm 395, CACM 13, 1970 (from memory; for dof >= 1e4 within 1e-12 of the tail).
    """
    a = dof - 0.5
    b = 48.0 * a * a
    zz = a * math.log1p(square / dof)
    correction = (zz + 3) / b - (((4 * zz + 33) * zz + 240) * zz + 855) / (10 * b * (b + 0.8 * zz * zz + 100))
    return -math.sqrt(zz) * (1.0 + correction)


def _fraction(a: float, b: float, x: float) -> float:
    """Continued fraction of I_x(a, b) (DLMF 8.17.22) by the method of Lentz; under 60 rounds for all uses here."""
    c, d = 1.0, 1.0 / (1.0 - (a + b) * x / (a + 1.0))
    value = d
    for m in range(1, 500):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        d, c = 1.0 / (1.0 + even * d), 1.0 + even / c
        value *= d * c
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        d, c = 1.0 / (1.0 + odd * d), 1.0 + odd / c
        value *= d * c
        if abs(d * c - 1.0) < 1e-15:
            break
    return value


def _gamma_ratio(a: float) -> float:
    """Γ(a + 1/2) / Γ(a); for large a by its series (DLMF 5.11.13), since the difference of log-gammas loses digits."""
    if a < 20.0:
        return math.gamma(a + 0.5) / math.gamma(a)
    q = 1.0 / (a * a)
    return math.sqrt(a) * math.exp((-1 / 8 + q * (1 / 192 - q * (1 / 640 - q * 17 / 14336))) / a)


def _magnitude(tail: float, dof: float) -> float:
    """The x >= 0 with `tail` (<= 1/2) of the distribution beyond it, by Newton from a start that makes it monotone."""
    if tail < _SMALLEST:
        raise NumberError(f"tail={tail!r}: probabilities below {_SMALLEST} are not computed; take a larger one")
    if tail > 0.25:  # the tail is convex in x: from 0 the steps never overshoot
        x = 0.0
        for _ in range(60):
            step = (_tail(x, dof) - tail) / t_density(x, dof)
            x += step
            if abs(step) <= 1e-15 * x:
                break
        return x
    # ln(tail) is concave and decreasing in ln(x): from the second step on all steps lead down to the root
    log_x = math.log(-_STANDARD.inv_cdf(tail))
    for _ in range(100):
        x = math.exp(log_x)
        here = _tail(x, dof)
        step = math.log(here / tail) * here / (x * t_density(x, dof))
        log_x += step
        if abs(step) <= 1e-13:  # the next one would be rounding: steps go down like squares
            break
        if log_x > _LARGEST:
            raise NumberError(f"dof={dof!r}: the quantile for a tail of {tail!r} is beyond 1e150; take more readings")
    return math.exp(log_x)
