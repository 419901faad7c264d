"""Propagation of distributions against closed forms (JCGM 101)."""

from __future__ import annotations

import math
import tracemalloc
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget, Input, monte_carlo, numerical_tolerance
from rigproof.uncertainty.montecarlo import _Blocks, interval
from rigproof.uncertainty.sampling import seed_of

approx: Any = pytest.approx  # compares with any shape of numbers

INF = math.inf
X, Y = Input("x", 2.0, 0.3), Input.limits("y", 1.0, 0.5)
PRODUCT = Budget(lambda x, y: x * y, [X, Y])


def test_moments_and_interval_of_a_product() -> None:
    trials = monte_carlo(PRODUCT, 0.9, trials=400_000)
    u = math.sqrt(4 * Y.u**2 + 1 * 0.3**2 + 0.3**2 * Y.u**2)
    assert len(trials.values) == 400_000
    assert (np.diff(trials.values) >= 0).all()
    assert trials.value == approx(2.0, abs=5 * u / 632)
    assert trials.u == approx(u, rel=0.01)
    assert trials.value == approx(trials.values.mean(), rel=1e-12)
    assert trials.u == approx(trials.values.std(ddof=1), rel=1e-9)
    assert np.mean((trials.values >= trials.lower) & (trials.values <= trials.upper)) == approx(0.9, abs=1e-5)
    assert np.mean(trials.values < trials.lower) == approx(0.05, abs=1e-5)
    assert trials.errors().mean() == approx(0.0, abs=1e-12)
    assert trials.interval(0.9) == (trials.lower, trials.upper)
    assert trials.coverage == 0.9
    assert trials.seed == seed_of(PRODUCT)


def test_the_same_seed_gives_the_same_bits() -> None:
    one, again = monte_carlo(PRODUCT, trials=25_000), monte_carlo(PRODUCT, trials=25_000)
    assert len(one.values) == 25_000
    assert (one.values == again.values).all()
    assert (one.value, one.u, one.lower, one.upper, one.noise) == (
        again.value,
        again.u,
        again.lower,
        again.upper,
        again.noise,
    )
    other = monte_carlo(PRODUCT, trials=25_000, seed=1)
    assert (one.values != other.values).any()
    assert other.seed == 1


@pytest.mark.parametrize("coverage", [0.95, 0.99])
def test_the_adaptive_run_ends_when_it_is_stable(coverage: float) -> None:
    trials = monte_carlo(PRODUCT, coverage, digits=1, share=1.0)
    assert trials.stable
    assert trials.noise <= trials.delta == numerical_tolerance(trials.u, 1) == 0.05  # u = 0.66
    blocks = len(trials.values) / 10_000
    assert blocks == int(blocks) >= 2
    finer = monte_carlo(PRODUCT, coverage, digits=1, share=0.2)
    assert finer.stable
    assert finer.noise <= finer.delta / 5
    assert len(finer.values) >= len(trials.values)


def test_noise_is_what_other_seeds_show() -> None:
    """Twice the standard deviation of the worst figure, here an end of the interval."""
    runs = [monte_carlo(PRODUCT, trials=100_000, seed=seed) for seed in range(40)]
    spread = np.std([run.upper for run in runs], ddof=1)
    assert np.mean([run.noise for run in runs]) == approx(2 * spread, rel=0.3)


def test_the_cap_ends_an_unstable_run() -> None:
    trials = monte_carlo(PRODUCT, 0.99, digits=3, most=40_000)
    assert len(trials.values) == 40_000
    assert not trials.stable
    assert trials.noise > trials.delta / 5


def test_a_high_coverage_has_larger_blocks() -> None:
    """JCGM 101, 7.9.4 b: at least 100/(1-p) trials a block."""
    assert len(monte_carlo(PRODUCT, 0.999, most=1).values) == approx(200_000, abs=2)
    assert len(monte_carlo(PRODUCT, 0.5, most=1).values) == 20_000


def test_one_block_has_no_noise_to_show() -> None:
    trials = monte_carlo(PRODUCT, trials=500)
    assert (trials.noise, trials.stable) == (INF, False)


def test_a_budget_without_uncertainty() -> None:
    trials = monte_carlo(Budget(lambda a: 2 * a, [Input.exact("a", 3.0)]))
    assert (trials.value, trials.u, trials.lower, trials.upper, trials.noise) == (6.0, 0.0, 6.0, 6.0, 0.0)
    assert trials.stable


def test_a_constant_function() -> None:
    trials = monte_carlo(Budget(lambda a: 5.0, [X]), trials=100)
    assert (trials.value, trials.u) == (5.0, 0.0)


def test_memory_is_that_of_one_block_and_the_results() -> None:
    inputs = [Input(f"x{n}", 0.0, 1.0) for n in range(30)]
    budget = Budget(lambda *x: sum(x), inputs)
    monte_carlo(budget, trials=100)
    tracemalloc.start()
    try:
        monte_carlo(budget, trials=1_000_000)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 16e6 + 30 * 8e4 * 2 + 5e6  # all inputs at once would be 240 MB


@pytest.mark.parametrize(
    ("u", "digits", "delta"),
    [
        (0.35, 2, 0.005), (0.35, 1, 0.05), (2.0, 2, 0.05), (10.1, 2, 0.5), (9.96, 2, 0.5), (9.94, 2, 0.05),
        (0.0754, 1, 0.005), (0.0754, 2, 0.0005), (32.0, 3, 0.05), (1e-12, 2, 5e-14), (0.0, 2, 0.0),
    ],
)  # fmt: skip
def test_numerical_tolerance(u: float, digits: int, delta: float) -> None:
    """JCGM 101, 7.9.2: half a unit of the last digit; its example 0.35 g."""
    assert numerical_tolerance(u, digits) == approx(delta, rel=1e-12)


@given(st.lists(st.integers(-50, 50), min_size=2, max_size=60), st.floats(0.05, 0.99))
def test_shortest_and_symmetric_interval(numbers: list[int], coverage: float) -> None:
    values = np.sort(np.array(numbers, dtype=float))
    low, high = interval(values, coverage)
    short_low, short_high = interval(values, coverage, shortest=True)
    inside = min(len(values) - 1, int(coverage * len(values) + 0.5))
    assert short_high - short_low == min(values[n + inside] - values[n] for n in range(len(values) - inside))
    assert short_high - short_low <= high - low
    below, above = int((values < low).sum()), int((values > high).sum())
    left_out = len(values) - 1 - inside
    assert below <= (left_out + 1) / 2
    assert above <= (left_out + 1) / 2 + 1


def test_intervals_of_an_exponential() -> None:
    """Skewed: the shortest begins at 0, the symmetric one does not; closed forms."""
    values = -np.log1p(-(np.arange(100_000) + 0.5) / 100_000)
    assert interval(values, 0.95, shortest=True) == approx((0.0, -math.log(0.05)), abs=1e-3)
    assert interval(values, 0.95) == approx((-math.log(0.975), -math.log(0.025)), abs=1e-3)


def test_shortest_is_passed_on() -> None:
    square = Budget(lambda x: x * x, [Input("x", 0.0, 1.0)])
    short = monte_carlo(square, trials=50_000, shortest=True)
    assert short.shortest
    assert short.lower < 1e-6
    assert (short.lower, short.upper) == short.interval(0.95, shortest=True) != short.interval(0.95)


def test_trials_without_a_finite_number_are_counted() -> None:
    root = Budget(lambda x, y: np.sqrt(x) + y, [Input("x", 1.0, 0.5), Input("y", 0.0, 1.0)])
    with pytest.raises(
        NumberError, match=r"2\d\d of 10000 trials gave no finite number, the first at x=-0\.\d+, y="
    ) as e:
        monte_carlo(root, trials=20_000)
    assert "give a bounded shape or a smaller uncertainty" in str(e.value)
    with pytest.raises(NumberError, match="trials gave no finite number"):
        monte_carlo(Budget(lambda x: 1 / (x > 2.9), [X]), trials=1000)


def test_a_function_for_floats_alone_is_refused() -> None:
    functions: list[Any] = [math.sin, lambda x: x if x > 0 else -x, lambda x: [x, x]]
    for function in functions:
        with pytest.raises(NumberError, match="a model must work on arrays as on floats, element by element"):
            monte_carlo(Budget(function, [X]))


def test_what_a_model_says_itself_comes_through() -> None:
    def model(x: Any) -> Any:
        raise NumberError("wall: thicker than the pipe")

    with pytest.raises(NumberError, match="wall: thicker"):
        monte_carlo(Budget(model, [X]))


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"trials": 1}, "trials=1: must lie in 2..1e8"),
        ({"trials": 10**8 + 1}, "trials=100000001: must lie in"),
        ({"digits": 0}, "digits=0: must be 1, 2 or 3"),
        ({"digits": 4}, "digits=4: must be 1, 2 or 3"),
        ({"coverage": 1.0}, r"coverage=1\.0: must lie strictly between 0 and 1"),
        ({"seed": -5}, "seed=-5: must be a whole number"),
    ],
)
def test_settings_outside_their_rule(wrong: dict[str, Any], message: str) -> None:
    with pytest.raises(NumberError, match=message):
        monte_carlo(PRODUCT, **wrong)
    assert len(monte_carlo(PRODUCT, trials=2).values) == 2


def test_an_interval_needs_a_coverage() -> None:
    with pytest.raises(NumberError, match="coverage=0"):
        monte_carlo(PRODUCT, trials=10).interval(0)


def test_two_digits_and_a_fifth_of_delta_unless_said() -> None:
    trials = monte_carlo(Budget(lambda x: x, [Input.limits("x", 0.0, 0.2)]), most=10**7)
    assert trials.stable
    assert trials.delta == 0.005  # u = 0.115
    assert trials.noise <= 0.001
    assert trials.noise > monte_carlo(Budget(lambda x: x, [Input.limits("x", 0.0, 0.2)]), trials=4_000_000).noise / 5


def test_noise_of_few_blocks_by_its_definition() -> None:
    """JCGM 101, 7.9.4 g: s² = Σ (y - mean)² / (h (h - 1)), twice its root, the worst of the four figures."""
    blocks = _Blocks(PRODUCT, 0.95, False, 3)
    for _ in range(2):
        blocks.add(10_000)
    two = blocks.result(2, 0.2)
    figures = np.array(blocks.figures)
    assert two.noise == approx(2 * max(figures.std(axis=0, ddof=1)) / math.sqrt(2))
    blocks.add(10_000)
    figures = np.array(blocks.figures)
    assert blocks.result(2, 0.2).noise == approx(2 * max(figures.std(axis=0, ddof=1)) / math.sqrt(3))


def test_noise_is_that_of_the_interval_asked_for() -> None:
    short, symmetric = (monte_carlo(PRODUCT, trials=50_000, shortest=shortest) for shortest in (True, False))
    assert short.noise != symmetric.noise


def test_two_trials_have_a_standard_deviation() -> None:
    pair = monte_carlo(PRODUCT, trials=2)
    assert pair.u == approx(np.std(pair.values, ddof=1))


@pytest.mark.parametrize("number", [math.inf, -math.inf, math.nan])
def test_a_single_trial_without_a_finite_number_is_found(number: float) -> None:
    def spoilt(x: Any) -> Any:
        return np.where(x == np.max(x), number, x)

    with pytest.raises(NumberError, match="1 of 1000 trials gave no finite number, the first at x="):
        monte_carlo(Budget(spoilt, [X]), trials=1000)
