"""The curve against one known in closed form: a normal measurement and a guarded limit (JCGM 106, 8.3.2)."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.campaign.curve import Accepted, falling, trace
from rigproof.campaign.intervals import share
from rigproof.uncertainty import Rule, Tolerance, decide, global_risk, normal_cdf, normal_quantile

LIMIT, U = 5.0, 0.7
BAND = 1.6448536 * U  # guarded acceptance at 5 %


def measured(size: float, runs: int) -> int:
    """Accepted runs of a rig whose flaw is `size`, by the decision that a check takes."""
    values = size + U * np.random.default_rng(int(size * 1e6)).standard_normal(runs)
    tolerance = Tolerance(None, LIMIT)
    return sum(decide(float(v), U, np.inf, tolerance, Rule()).finding == "accept" for v in values)


def closed_form(size: float) -> float:
    return normal_cdf((LIMIT - BAND - size) / U)


def test_the_closed_form_lies_within_the_intervals() -> None:
    curve = trace(measured, 0.0, 8.0, 25, 400)
    inside = [p.accepted.low <= closed_form(p.size) <= p.accepted.high for p in curve.points]
    assert sum(inside) >= len(inside) - 3  # each holds with 95 % at least
    assert max(abs(p.smooth - closed_form(p.size)) for p in curve.points) < 0.08


def test_the_size_caught_at_95_percent() -> None:
    wanted = LIMIT - BAND - U * normal_quantile(0.05)
    caught, low, high = trace(measured, 0.0, 8.0, 25, 2000).size_caught(0.95)
    assert caught == pytest.approx(wanted, abs=0.1)
    assert low is not None
    assert high is not None
    assert low <= wanted <= high
    assert high - low < 1.0


def test_runs_are_spent_where_the_curve_bends() -> None:
    sizes = [p.size for p in trace(measured, 0.0, 8.0, 15, 200).points]
    steep = [size for size in sizes if 0.02 < closed_form(size) < 0.98]
    assert len(steep) >= 9
    even = np.linspace(0.0, 8.0, 15)
    assert len(steep) > 1.5 * sum(0.02 < closed_form(size) < 0.98 for size in even)


@pytest.mark.parametrize(("accepted", "caught"), [(lambda s, n: n, None), (lambda s, n: 0, 0.0)])
def test_ranges_that_do_not_reach_the_bend(accepted: Accepted, caught: float | None) -> None:
    curve = trace(accepted, 0.0, 1.0, 9, 50)
    assert len(curve.points) == 5  # nothing bends: no more sizes than the grid
    assert curve.size_caught()[0] == caught


@given(st.lists(st.floats(0, 1), min_size=1, max_size=30))
def test_the_smooth_curve_falls_and_keeps_the_mean(values: list[float]) -> None:
    smooth = falling(values)
    assert all(a >= b for a, b in pairwise(smooth))
    assert sum(smooth) == pytest.approx(sum(values))


def test_a_falling_sequence_is_left() -> None:
    assert falling([0.9, 0.5, 0.5, 0.1]) == [0.9, 0.5, 0.5, 0.1]
    assert falling([0.2, 0.8, 0.5]) == [0.5, 0.5, 0.5]


def test_counted_risks_are_the_global_ones_of_jcgm_106() -> None:
    """Producer's and consumer's risk (JCGM 106, 9.5) counted in 40,000 rigs whose flaw is normal, 4.0 ± 0.8."""
    bits = np.random.default_rng(7)
    true = 4.0 + 0.8 * bits.standard_normal(40_000)
    accepted = true + U * bits.standard_normal(true.size) <= LIMIT - BAND
    found = global_risk(4.0, 0.8, U, Tolerance(None, LIMIT), Tolerance(None, LIMIT - BAND))
    for count, risk in (
        (int((accepted & (true > LIMIT)).sum()), found.consumer),
        (int((~accepted & (true <= LIMIT)).sum()), found.producer),
    ):
        counted = share(count, true.size, 0.999)
        assert counted.low <= risk <= counted.high
