from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.errors import NumberError
from rigproof.uncertainty import autocorrelation, correlation_time, mean_and_sd, mean_and_u, t_quantile

approx: Any = pytest.approx  # compares with any shape of numbers


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=50))
def test_mean_and_sd_against_exact_sums(samples: list[float]) -> None:
    mean, sd = mean_and_sd(samples)
    exact = math.fsum(samples) / len(samples)
    assert mean == approx(exact, rel=1e-13, abs=1e-9)
    assert sd == approx(np.std(samples, ddof=1), rel=1e-9, abs=1e-9)


def test_an_offset_costs_no_digits() -> None:
    """The one-pass formula Σx² - n x̄² gives nothing here."""
    assert mean_and_sd([1e9 + 1, 1e9 + 2, 1e9 + 3]) == (1e9 + 2, 1.0)


def test_mean_and_u_of_independent_readings() -> None:
    mean, u, dof = mean_and_u([1, 2, 3, 6])
    assert (mean, u, dof) == (3.0, approx(math.sqrt(14 / 12)), 3.0)


@pytest.mark.parametrize("scale", [1e-9, 1.0])
@pytest.mark.parametrize("seed", [14, 28])
def test_correlation_time_by_its_definition(scale: float, seed: int) -> None:
    """The sums of the docstring, term by term; the second estimate is the larger with seed 14, the first with 28."""
    n = 40
    samples = scale * np.cumsum(np.random.default_rng(seed).normal(size=n))
    r = [autocorrelation(samples, k) for k in range(n)]
    last = next(k for k in range(1, n) if r[k] <= 0)
    summed = 1 + 2 * sum((1 - k / n) * r[k] for k in range(1, last))
    expected = max(summed, (1 + r[1]) / (1 - r[1]))
    assert correlation_time(samples) == approx(expected, rel=1e-10)
    _, u, dof = mean_and_u(samples, autocorrelated=True)
    assert dof == approx(max(1.0, n / expected - 1), rel=1e-10)
    assert u == approx(float(np.std(samples)) / math.sqrt(dof), rel=1e-10)


def autoregressive(n: int, phi: float, rng: np.random.Generator) -> npt.NDArray[np.float64]:
    x = rng.normal(size=n + 200)
    for i in range(1, x.size):
        x[i] += phi * x[i - 1]
    return x[-n:]


@pytest.mark.parametrize(("phi", "expected"), [(0.0, 1.0), (0.5, 3.0), (0.9, 19.0)])
def test_correlation_time_of_a_first_order_process(phi: float, expected: float) -> None:
    """(1 + φ)/(1 - φ), from 20,000 readings."""
    samples = autoregressive(20_000, phi, np.random.default_rng(11))
    assert correlation_time(samples) == approx(expected, rel=0.15)


@pytest.mark.parametrize("phi", [0.0, 0.5, 0.9])
def test_coverage_of_the_mean_of_autocorrelated_readings(phi: float) -> None:
    """400 series of 300 readings, 95 % intervals; taken as independent, φ = 0.9 would cover one in three."""
    rng = np.random.default_rng(12)
    hits = 0
    for _ in range(400):
        mean, u, dof = mean_and_u(autoregressive(300, phi, rng), autocorrelated=True)
        hits += abs(mean) <= t_quantile(0.975, dof) * u
    assert 0.91 <= hits / 400 <= 0.985


def test_slow_wander_under_white_noise_is_seen() -> None:
    """The coefficient at lag 1 alone is small here; u must be near that of the wander."""
    rng = np.random.default_rng(13)
    samples = 3 * rng.normal(size=4000) + 10 * autoregressive(4000, 0.98, rng) / math.sqrt(1 / (1 - 0.98**2)) / 5
    white = mean_and_u(samples)[1]
    aware = mean_and_u(samples, autocorrelated=True)[1]
    wander = 2.0 * math.sqrt(99 / 4000)  # sd of the wander is 2, its correlation time 99
    assert aware == approx(wander, rel=0.35)
    assert aware > 4 * white


def test_alternating_readings_claim_no_gain() -> None:
    """Negative autocorrelation would make the mean better than independent readings do; that is not claimed."""
    samples = [1.0, -1.0] * 50
    assert correlation_time(samples) == 1.0
    assert mean_and_u(samples, autocorrelated=True) == mean_and_u(samples)


def test_a_drift_leaves_two_independent_readings_at_least() -> None:
    _, u, dof = mean_and_u(np.arange(1000.0), autocorrelated=True)
    assert 1.0 <= dof < 5.0
    assert u > 0.3 * 1000 / math.sqrt(12)


def test_the_highest_readings_have_a_standard_deviation_still() -> None:
    assert mean_and_sd([1e150, -1e150]) == (0.0, approx(math.sqrt(2) * 1e150))


def test_constant_readings() -> None:
    """A display that does not move has no scatter; its resolution is another input."""
    assert mean_and_u([0.1] * 7, autocorrelated=True) == (0.1, 0.0, 6.0)
    assert correlation_time([0.1] * 7) == 1.0
    assert autocorrelation([0.1] * 7) == 0.0


def test_two_readings() -> None:
    assert mean_and_u([1.0, 3.0], autocorrelated=True) == (2.0, 1.0, 1.0)


def test_autocorrelation_at_lags() -> None:
    samples = [1.0, 2.0, 3.0, 4.0]
    assert [autocorrelation(samples, lag) for lag in range(4)] == approx([1.0, 0.25, -0.3, -0.45])
    assert autocorrelation(samples) == approx(0.25)


@pytest.mark.parametrize("lag", [-1, 4])
def test_lag_refused(lag: int) -> None:
    with pytest.raises(NumberError, match=rf"lag={lag}: must lie in 0..3"):
        autocorrelation([1.0, 2.0, 3.0, 4.0], lag)


@pytest.mark.parametrize("function", [mean_and_sd, mean_and_u, correlation_time, autocorrelation])
@pytest.mark.parametrize(
    ("samples", "message"),
    [
        ([], "samples: n=0: at least 2 are needed; take more readings"),
        ([1.0], "n=1: at least 2"),
        (
            [1.0, math.nan, 2.0],
            r"samples: \[1\]=nan: must be finite \(and within ±1e\+150\); leave out missing readings",
        ),
        ([1.1e150, 2.0], r"\[0\]=1.1e\+150"),
        ([1.0, 2.0, -math.inf], r"\[2\]=-inf"),
        ([[1.0, 2.0], [3.0, 4.0]], r"shape=\(2, 2\): must be one row of numbers"),
        (3.0, r"shape=\(\): must be one row"),
    ],
)
def test_samples_refused(function: Any, samples: Any, message: str) -> None:
    with pytest.raises(NumberError, match=message):
        function(samples)
