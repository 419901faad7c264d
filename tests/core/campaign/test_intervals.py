"""Clopper and Pearson's interval against scipy and against what its definition says."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats as scipy_stats

from rigproof.campaign.intervals import Share
from rigproof.errors import NumberError
from rigproof.uncertainty import beta_cdf, beta_quantile

stats: Any = scipy_stats  # it has no types


@given(st.integers(1, 2000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.floats(0.5, 0.999))
def test_against_scipy(counted: tuple[int, int], confidence: float) -> None:
    count, of = counted
    expected = stats.binomtest(count, of).proportion_ci(confidence, method="exact")
    assert Share(count, of).interval(confidence) == pytest.approx(tuple(expected), rel=1e-9, abs=1e-12)


def test_none_of_many() -> None:
    """None of n: the upper end of a two-sided 95 % interval is 1 - 0.025^(1/n)."""
    assert Share(0, 1000).interval()[1] == pytest.approx(1 - 0.025 ** (1 / 1000), rel=1e-9)
    assert (Share(0, 10).interval()[0], Share(10, 10).interval()[1]) == (0.0, 1.0)
    assert Share(0, 72).interval()[1] < 0.05 < Share(0, 71).interval()[1]


def test_the_rest_is_the_mirror_image() -> None:
    lower, upper = Share(3, 40).interval()
    assert Share(3, 40).rest.interval() == pytest.approx((1 - upper, 1 - lower))
    assert str(Share(3, 4)) == "75 % (19 % to 99 %)"


@pytest.mark.parametrize(("count", "of"), [(-1, 5), (6, 5), (0, 0)])
def test_what_no_count_gives(count: int, of: int) -> None:
    with pytest.raises(NumberError, match="one run at least"):
        Share(count, of)


@given(st.floats(0, 1), st.floats(0.05, 300), st.floats(0.05, 300))
def test_beta_distribution(x: float, a: float, b: float) -> None:
    assert beta_cdf(x, a, b) == pytest.approx(float(stats.beta.cdf(x, a, b)), rel=1e-9, abs=1e-13)
    with pytest.raises(NumberError, match="must be finite and > 0"):
        beta_cdf(x, -a, b)


@given(st.floats(1e-4, 0.9999), st.floats(0.5, 300), st.floats(0.5, 300))
def test_beta_quantile(p: float, a: float, b: float) -> None:
    assert beta_quantile(p, a, b) == pytest.approx(float(stats.beta.ppf(p, a, b)), rel=1e-7, abs=1e-13)
