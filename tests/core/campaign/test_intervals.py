"""Clopper and Pearson's interval against scipy and against what its definition says."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats as scipy_stats

from rigproof.campaign.intervals import share
from rigproof.errors import NumberError
from rigproof.uncertainty.distributions import beta_cdf

stats: Any = scipy_stats  # it has no types


@settings(deadline=None)
@given(st.integers(1, 2000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.floats(0.5, 0.999))
def test_against_scipy(counted: tuple[int, int], coverage: float) -> None:
    count, runs = counted
    found = share(count, runs, coverage)
    low, high = stats.binomtest(count, runs).proportion_ci(coverage, method="exact")
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-9, abs=1e-12)


def test_the_rule_of_three() -> None:
    """None of n: the upper end of a two-sided 95 % interval is 1 - 0.025^(1/n); n = 1000: 0.37 %."""
    assert share(0, 1000).high == pytest.approx(1 - 0.025 ** (1 / 1000), rel=1e-9)
    assert (share(0, 10).low, share(10, 10).high) == (0.0, 1.0)


@pytest.mark.parametrize(("count", "runs"), [(-1, 5), (6, 5), (0, 0)])
def test_what_no_count_gives(count: int, runs: int) -> None:
    with pytest.raises(NumberError, match="at least one run is needed"):
        share(count, runs)


@given(st.floats(0, 1), st.floats(0.05, 300), st.floats(0.05, 300))
def test_beta_distribution(x: float, a: float, b: float) -> None:
    assert beta_cdf(x, a, b) == pytest.approx(float(stats.beta.cdf(x, a, b)), rel=1e-9, abs=1e-13)
    with pytest.raises(NumberError, match="must be > 0"):
        beta_cdf(x, -a, b)
