"""Against scipy, whose t distribution comes from another code base."""

from __future__ import annotations

import math
from typing import Any
from unittest.mock import Mock

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats as scipy_stats

from rigproof.errors import NumberError
from rigproof.uncertainty import coverage_factor, distributions, normal_cdf, normal_quantile, t_cdf, t_quantile
from rigproof.uncertainty.distributions import t_density

stats: Any = scipy_stats  # it has no types

DOFS = [0.5, 1.0, 1.5, 2.0, 4.0, 7.3, 19.0, 39.9, 40.1, 120.0, 1e3, 9.99e3, 1.001e4, 1e6, 1e12]
dofs = st.floats(0.5, 1e7)


@pytest.mark.parametrize("x", [-38.0, -8.0, -3.0, -1.0, -1e-9, 0.0, 0.3, 2.0, 9.0])
def test_normal_cdf(x: float) -> None:
    assert normal_cdf(x) == pytest.approx(stats.norm.cdf(x), rel=1e-13)


@given(st.floats(1e-100, 1 - 1e-12))
def test_normal_quantile(p: float) -> None:
    assert normal_quantile(p) == pytest.approx(stats.norm.ppf(p), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("dof", DOFS)
@pytest.mark.parametrize("x", [-1e200, -40.0, -6.0, -1.74, -1.72, -0.2, -1e-9, 0.0, 0.7, 3.0])
def test_t_cdf(x: float, dof: float) -> None:
    # scipy itself is off by 3e-9 at dof = 1 and tiny x; the closed form below covers that
    assert t_cdf(x, dof) == pytest.approx(stats.t.cdf(x, dof), rel=2e-12 if abs(x) > 1e-3 else 1e-8, abs=1e-90)


@pytest.mark.parametrize(
    ("x", "dof", "tail"),
    [
        (-37.0, 1e4, 2.81131561763975828e-281),
        (-30.0, 1e4, 1.02216352371278533e-189),
        (-20.0, 12345.6, 6.6722004989234967e-88),
        (-5.0, 1e4, 2.91516330683132365e-7),
        (-5.0, 9999.0, 2.91516820511415962e-7),
    ],
)
def test_far_tails_of_many_degrees_of_freedom(x: float, dof: float, tail: float) -> None:
    """Incomplete beta function of mpmath 1.4.1 with 60 digits: betainc(dof/2, 1/2, 0, dof/(dof + x²))/2."""
    assert t_cdf(x, dof) == pytest.approx(tail, rel=2e-12, abs=0.0)


@pytest.mark.parametrize(("a", "ratio"), [(20.0, 4.4442751612399151446), (25.0, 4.9750640535227740967)])
def test_gamma_ratio(a: float, ratio: float) -> None:
    """mpmath 1.4.1, as above: Γ(a + 1/2)/Γ(a) where the series begins."""
    assert distributions._gamma_ratio(a) == pytest.approx(ratio, rel=6e-15, abs=0.0)


class Counted(float):
    """A float that counts how often it is multiplied from the left."""

    times = 0

    def __rmul__(self, other: float) -> float:
        self.times += 1
        return other * float(self)


@pytest.mark.parametrize("dof", [0.5, 1.0, 4.0, 40.0, 9999.0])
@pytest.mark.parametrize("square", [1e-4, 2.999, 3.0, 9.0, 1600.0])
def test_the_continued_fraction_takes_under_60_rounds(square: float, dof: float) -> None:
    x = Counted((square if square < 3.0 else dof) / (dof + square))
    distributions._fraction(*(0.5, dof / 2) if square < 3.0 else (dof / 2, 0.5), x)
    assert 1 < x.times < 2 * 60


@pytest.mark.parametrize("dof", [0.5, 1.0, 1.5, 4.0, 40.0, 1e3, 1e5])
@pytest.mark.parametrize("p", [1e-30, 1e-8, 1e-3, 0.05, 0.249, 0.251, 0.3, 0.4, 0.4999])
def test_a_quantile_takes_few_steps(monkeypatch: pytest.MonkeyPatch, p: float, dof: float) -> None:
    steps = Mock(wraps=t_density)
    monkeypatch.setattr(distributions, "t_density", steps)
    t_quantile.__wrapped__(p, dof)
    assert steps.call_count <= 12


@pytest.mark.parametrize("x", [-50.0, -2.0, -1.0, -1e-8, 1e-3, 4.0])
def test_t_cdf_closed_forms(x: float) -> None:
    """One degree of freedom: the Cauchy law; two: 1/2 + x/(2√(2 + x²))."""
    assert t_cdf(x, 1.0) == pytest.approx(0.5 + math.atan(x) / math.pi, rel=1e-13)
    assert t_cdf(x, 2.0) == pytest.approx(0.5 + x / (2 * math.sqrt(2 + x * x)), rel=1e-12)


@given(st.floats(1e-12, 0.4999), dofs)
def test_t_quantile_inverts_the_cdf(p: float, dof: float) -> None:
    x = t_quantile(p, dof)
    assert t_cdf(x, dof) == pytest.approx(p, rel=1e-11)
    assert x == pytest.approx(stats.t.ppf(p, dof), rel=1e-9)
    assert t_quantile(1 - p, dof) == pytest.approx(-x, rel=1e-3 if p < 1e-9 else 1e-5)  # 1 - p has lost digits


@given(st.floats(-30, 30), dofs)
def test_t_density(x: float, dof: float) -> None:
    assert t_density(x, dof) == pytest.approx(stats.t.pdf(x, dof), rel=1e-9)
    assert t_density(x, math.inf) == pytest.approx(stats.norm.pdf(x), rel=1e-13)


def test_many_degrees_of_freedom_lead_to_the_normal_law() -> None:
    assert t_cdf(-2.0, math.inf) == normal_cdf(-2.0)
    assert t_quantile(0.025, math.inf) == normal_quantile(0.025)
    assert t_quantile(0.025, 1e14) == pytest.approx(normal_quantile(0.025), rel=1e-13)
    assert str(t_quantile(0.5, 3.0)) == "0.0"
    assert t_quantile(0.5 - 2.0**-30, 3.0) == pytest.approx(-(2.0**-30) / stats.t.pdf(0.0, 3.0), rel=1e-12)
    assert t_cdf(-math.inf, 3.0) == t_cdf(-math.inf, math.inf) == 0.0
    assert t_cdf(math.inf, 1e5) == 1.0
    assert t_density(math.inf, 5.0) == t_density(math.inf, math.inf) == 0.0


def test_coverage_factor() -> None:
    assert coverage_factor(0.95, math.inf) == pytest.approx(1.959964, abs=1e-6)
    assert coverage_factor(0.9, 7.5) == pytest.approx(stats.t.ppf(0.95, 7.5), rel=1e-12)


@pytest.mark.parametrize("p", [0.0, 1.0, -0.1, 95.0, math.nan])
def test_probabilities_lie_between_0_and_1(p: float) -> None:
    with pytest.raises(NumberError, match=r"p=.*strictly between 0 and 1; 95 % is written 0.95"):
        normal_quantile(p)
    with pytest.raises(NumberError, match="p="):
        t_quantile(p, 5.0)
    with pytest.raises(NumberError, match="coverage="):
        coverage_factor(p, 5.0)


@pytest.mark.parametrize("dof", [0.0, -3.0, math.nan])
def test_degrees_of_freedom_are_positive(dof: float) -> None:
    with pytest.raises(NumberError, match=r"dof=.*must be > 0; inf stands for the normal"):
        t_cdf(0.0, dof)
    with pytest.raises(NumberError, match="dof="):
        t_quantile(0.1, dof)


def test_quantiles_out_of_reach_are_refused() -> None:
    with pytest.raises(NumberError, match="probabilities below 1e-100"):
        t_quantile(0.99e-100, 5.0)
    assert t_cdf(t_quantile(1e-100, 5.0), 5.0) == pytest.approx(1e-100, rel=1e-11, abs=0.0)
    with pytest.raises(NumberError, match=r"dof=0.1: the quantile .* beyond 1e150; take more readings"):
        t_quantile(1e-20, 0.1)
