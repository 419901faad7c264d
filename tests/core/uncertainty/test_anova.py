from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats as scipy_stats

from rigproof.errors import NumberError
from rigproof.uncertainty import f_tail, group_statistics

stats: Any = scipy_stats  # it has no types
approx: Any = pytest.approx

groups = st.lists(st.lists(st.floats(-5, 5), min_size=2, max_size=6), min_size=2, max_size=5)


@given(groups)
def test_ratio_and_probability_are_those_of_scipy(data: list[list[float]]) -> None:
    spread = sum(np.ptp(group) for group in data)
    if spread < 1e-3:
        return
    found = group_statistics(data)
    assert found.ratio == approx(stats.f_oneway(*data).statistic, rel=1e-9, abs=1e-12)
    p = stats.f.sf(found.ratio, found.dof_between, found.dof_within)  # f_oneway gives nan for equal means
    assert found.probability == approx(p, rel=1e-9, abs=1e-12)
    assert found.dof_within == sum(len(group) for group in data) - len(data)
    assert found.dof_between == len(data) - 1
    assert found.readings == sum(len(group) for group in data)


def test_components_of_equal_groups() -> None:
    """Means 1, 3; each group ±1: s_within² = 2, K s²(means) = 2·2 = 4, s_between² = (4 - 2)/2."""
    found = group_statistics([[0.0, 2.0], [2.0, 4.0]])
    assert found.mean == 2.0
    assert found.s_within == approx(math.sqrt(2))
    assert found.s_between == approx(1.0)
    assert found.s_reproducibility == approx(math.sqrt(3))
    assert (found.ratio, found.size, found.s_of_means) == (approx(2.0), 2.0, approx(math.sqrt(2)))
    estimate, pooled = found.estimate(), found.pooled()
    assert (estimate.value, estimate.u, estimate.dof) == (2.0, approx(1.0), 1.0)
    every = np.array([0.0, 2.0, 2.0, 4.0])
    assert (pooled.value, pooled.u, pooled.dof) == (2.0, approx(every.std(ddof=1) / 2), 3.0)


def test_components_of_unequal_groups() -> None:
    """Effective size (n - Σn_j²/n)/(J - 1) = (9 - 29/9)/2."""
    found = group_statistics([[0.0, 2.0], [3.0, 4.0, 5.0], [9.0, 9.0, 9.0, 13.0]])
    assert found.size == approx((9 - 29 / 9) / 2)
    within = (2 + 2 + 12) / 6
    between = (2 * (1 - 6) ** 2 + 3 * (4 - 6) ** 2 + 4 * (10 - 6) ** 2) / 2
    assert found.s_within == approx(math.sqrt(within))
    assert found.s_between == approx(math.sqrt((between - within) / found.size))
    assert found.mean == 5.0  # of the means, which count alike


def test_groups_closer_than_chance_show_no_difference() -> None:
    found = group_statistics([[0.0, 2.0], [0.1, 2.1]])
    assert found.s_between == 0
    assert found.probability > 0.9
    assert found.s_reproducibility == found.s_within


def test_groups_without_scatter() -> None:
    apart = group_statistics([[1.0, 1.0], [2.0, 2.0]])
    assert (apart.ratio, apart.probability, apart.s_within) == (math.inf, 0.0, 0.0)
    assert apart.pooled().u == approx(np.std([1, 1, 2, 2], ddof=1) / 2)
    same = group_statistics([[1.0, 1.0], [1.0, 1.0]])
    assert (same.ratio, same.probability, same.estimate().u) == (0.0, 1.0, 0.0)


def test_scatter_is_found_again() -> None:
    bits = np.random.default_rng(5)
    days = bits.normal(0, 3.0, (400, 1)) + bits.normal(10, 2.0, (400, 5))
    found = group_statistics(list(days))
    assert found.s_within == approx(2.0, rel=0.05)
    assert found.s_between == approx(3.0, rel=0.1)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ([[1.0, 2.0]], "groups=1: at least 2 are needed to tell groups apart; repeat on another day"),
        ([], "groups=0: at least 2"),
        ([[1.0, 2.0], [3.0]], "group 2: n=1: at least 2 are needed"),
        ([[1.0, math.nan], [3.0, 4.0]], r"group 1: \[1\]=nan: must be finite"),
    ],
)
def test_bad_groups(data: Any, message: str) -> None:
    with pytest.raises(NumberError, match=message):
        group_statistics(data)


@given(st.floats(1e-3, 200.0), st.floats(0.5, 80.0), st.floats(0.5, 80.0))
def test_f_tail(ratio: float, dof: float, below: float) -> None:
    assert f_tail(ratio, dof, below) == approx(stats.f.sf(ratio, dof, below), rel=1e-9, abs=1e-14)


def test_f_tail_at_its_ends() -> None:
    assert f_tail(1e-32, 1.0, 4.0) == pytest.approx(1.0, abs=1e-15)
    assert f_tail(1e-300, 2.0, 3.0) == 1.0
    assert f_tail(1e30, 2.0, 3.0) == pytest.approx(stats.f.sf(1e30, 2, 3), rel=1e-9)
    assert f_tail(0.0, 2, 3) == f_tail(-1.0, 2, 3) == 1.0
    assert f_tail(math.inf, 2, 3) == 0.0
    for dof, below, named in (
        *((0.0, 3.0, "dof=0.0"), (-1.0, 2.0, "dof=-1.0")),
        *((2.0, math.inf, "dof_below=inf"), (2.0, math.nan, "dof_below=nan")),
    ):
        with pytest.raises(NumberError, match=rf"^{named}: degrees of freedom must be finite and > 0"):
            f_tail(1.0, dof, below)


def test_more_groups_without_scatter() -> None:
    found = group_statistics([[1.0, 1.0], [2.0, 2.0], [4.0, 4.0]])
    assert found.pooled().u == approx(np.std([1, 1, 2, 2, 4, 4], ddof=1) / math.sqrt(6))
