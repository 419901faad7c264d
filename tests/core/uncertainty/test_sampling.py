"""Drawn inputs against the distributions of scipy (JCGM 101, table 1)."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats as scipy_stats

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget, Input
from rigproof.uncertainty.sampling import Sampler, lower_root, seed_of, source

stats: Any = scipy_stats  # it has no types
approx: Any = pytest.approx  # compares with any shape of numbers

INF = math.inf
MANY = 200_000


def nothing(*values: Any) -> Any:
    return sum(values)


def draw(*inputs: Input, correlations: Any = (), count: int = MANY, seed: int = 1) -> Any:
    return Sampler(Budget(nothing, inputs, correlations), count).draw(source(seed)).copy()


def inexact(x: Any, d: float) -> Any:
    """Distribution function of a rectangle over ±w, w itself even over 1 ± d, by integrating over w."""
    grid = np.linspace(-1 - d, 1 + d, 2001)
    widths = 1 + d * (np.arange(1000) + 0.5 - 500) / 500
    return np.interp(x, grid, np.mean([np.clip((grid / w + 1) / 2, 0, 1) for w in widths], axis=0))


SHAPES = {
    "normal": (Input("x", 3.0, 0.5), stats.norm(3, 0.5).cdf),
    "normal, certificate with dof": (Input("x", 3.0, 0.5, 5.0), stats.t(5, 3, 0.5).cdf),
    "t": (Input("x", 3.0, 0.5, 3.0, "t"), stats.t(3, 3, 0.5).cdf),
    "rectangular": (Input.limits("x", 3.0, 0.5), stats.uniform(2.5, 1).cdf),
    "rectangular with dof": (Input.limits("x", 3.0, 0.5, dof=8.0), stats.uniform(2.5, 1).cdf),
    "triangular": (Input.limits("x", 3.0, 0.5, shape="triangular"), stats.triang(0.5, 2.5, 1).cdf),
    "arcsine": (Input.limits("x", 3.0, 0.5, shape="arcsine"), stats.arcsine(2.5, 1).cdf),
    "trapezoid": (Input.trapezoid("x", 3.0, 0.5, 0.4), stats.trapezoid(0.3, 0.7, 2.5, 1).cdf),
    "curvilinear": (Input.inexact_limits("x", 3.0, 0.5, 0.2), lambda x: inexact((x - 3) / 0.5, 0.4)),
}


@pytest.mark.parametrize("name", SHAPES)
def test_shape(name: str) -> None:
    item, cdf = SHAPES[name]
    (row,) = draw(item)
    # 0.0037 is what 1 of 100 000 true samples of this size exceeds
    assert stats.kstest(row[:MANY], cdf).statistic < 2.33 / math.sqrt(MANY)
    assert row.mean() == approx(3.0, abs=6 * item.u / math.sqrt(MANY))
    if item.dof == INF or item.shape == "rectangular":
        assert row.std() == approx(item.u, rel=0.01)


@pytest.mark.parametrize("name", ["rectangular", "triangular", "arcsine", "trapezoid"])
def test_bounded_shapes_stay_within_their_limits(name: str) -> None:
    (row,) = draw(SHAPES[name][0])
    assert 2.5 <= row.min() < 2.505
    assert 3.495 < row.max() <= 3.5


def test_extreme_forms_are_rectangle_and_triangle() -> None:
    assert Input.trapezoid("x", 0.0, 1.0, 1.0).u == approx(1 / math.sqrt(3))
    assert Input.trapezoid("x", 0.0, 1.0, 0.0).u == approx(1 / math.sqrt(6))
    assert Input.inexact_limits("x", 0.0, 1.0, 0.0).u == approx(1 / math.sqrt(3))
    assert Input.inexact_limits("x", 0.0, 3.0, 3.0).u == approx(math.sqrt(3 + 1))


def test_an_exact_input_does_not_move() -> None:
    fixed, _ = draw(Input.exact("two", 2.0), Input("x", 0.0, 1.0), count=10)
    assert (fixed == 2.0).all()


def test_correlated_inputs_are_multivariate_normal() -> None:
    a, b, c, alone = draw(
        Input("a", 1.0, 0.1),
        Input("b", 2.0, 0.2),
        Input("c", 3.0, 0.3),
        Input.limits("alone", 0.0, 1.0),
        correlations=[("a", "b", 0.6), ("b", "c", -0.5)],
    )
    r = np.corrcoef([a, b, c, alone])
    expected = [[1, 0.6, 0, 0], [0.6, 1, -0.5, 0], [0, -0.5, 1, 0], [0, 0, 0, 1]]
    assert r == approx(np.array(expected), abs=0.01)
    for row, mean, u in ((a, 1.0, 0.1), (b, 2.0, 0.2), (c, 3.0, 0.3)):
        assert stats.kstest(row, stats.norm(mean, u).cdf).statistic < 2.33 / math.sqrt(MANY)


def test_correlated_inputs_of_few_readings_are_multivariate_t() -> None:
    """A common denominator: large errors come together."""
    a, b = draw(Input("a", 0.0, 1.0, 4.0, "t"), Input("b", 5.0, 2.0, 9.0, "t"), correlations=[("a", "b", 0.5)])
    assert stats.kstest(a, stats.t(4).cdf).statistic < 2.33 / math.sqrt(MANY)
    assert stats.kstest(b, stats.t(4, 5, 2).cdf).statistic < 2.33 / math.sqrt(MANY)
    assert np.corrcoef(a, b)[0, 1] == approx(0.5, abs=0.03)
    assert np.corrcoef((a - 0.5 * (b - 5) / 2) ** 2, (b - 5) ** 2)[0, 1] > 0.05  # uncorrelated, yet not independent


def test_fully_correlated_inputs_move_together() -> None:
    a, b, c = draw(
        Input("a", 0.0, 1.0),
        Input("b", 0.0, 2.0),
        Input("c", 0.0, 3.0),
        correlations=[("a", "b", 1.0), ("a", "c", -1.0), ("b", "c", -1.0)],
    )
    assert b == approx(2 * a)
    assert c == approx(-3 * a)


def test_an_exact_member_of_a_correlated_pair_does_no_harm() -> None:
    a, b = draw(Input("a", 0.0, 1.0), Input.exact("b", 7.0), correlations=[("a", "b", 0.5)])
    assert (b == 7.0).all()
    assert a.std() == approx(1.0, rel=0.01)


def test_correlated_inputs_of_another_shape_are_refused() -> None:
    with pytest.raises(NumberError, match="b: shape='rectangular': correlated inputs are drawn as normal or t; split"):
        draw(Input("a", 0.0, 1.0), Input.limits("b", 0.0, 1.0), correlations=[("a", "b", 0.5)])


@pytest.mark.parametrize("shape", ["t", "normal"])
def test_two_degrees_of_freedom_have_no_standard_deviation(shape: Any) -> None:
    with pytest.raises(NumberError, match=r"x: dof=2\.0: .* take at least 4 readings"):
        draw(Input("x", 0.0, 1.0, 2.0, shape))
    draw(Input("x", 0.0, 1.0, 2.1, shape), count=5)
    draw(Input("x", 0.0, 0.0, 1.0, shape), count=5)
    draw(Input("x", 0.0, 1.0, 1.0, "rectangular"), count=5)


matrices = st.integers(1, 5).flatmap(
    lambda n: st.lists(st.lists(st.floats(-1, 1), min_size=n, max_size=n), min_size=n, max_size=n)
)


@given(matrices)
def test_lower_root(rows: list[list[float]]) -> None:
    factor = np.array(rows)
    matrix = factor @ factor.T + 0.01 * np.eye(len(rows))
    root = np.array(lower_root(matrix.tolist()))
    assert root @ root.T == approx(matrix, abs=1e-12)
    assert root == approx(np.linalg.cholesky(matrix), abs=1e-9)


def test_lower_root_of_a_singular_matrix() -> None:
    root = np.array(lower_root([[1.0, 1.0, 0.5], [1.0, 1.0, 0.5], [0.5, 0.5, 1.0]]))
    assert root @ root.T == approx(np.array([[1.0, 1.0, 0.5], [1.0, 1.0, 0.5], [0.5, 0.5, 1.0]]))
    assert (root[:, 1] == 0).all()


def test_the_seed_is_of_the_inputs_alone() -> None:
    inputs = [Input("a", 1.0, 0.1), Input.trapezoid("b", 2.0, 0.2, 0.5)]
    seed = seed_of(Budget(nothing, inputs))
    assert seed == seed_of(Budget(lambda a, b: a * b, inputs))
    assert seed == 6009522750496395649  # written down once: a verdict names it
    others = [
        [Input("A", 1.0, 0.1), inputs[1]],
        [Input("a", math.nextafter(1.0, 2.0), 0.1), inputs[1]],
        [Input("a", 1.0, 0.2), inputs[1]],
        [Input("a", 1.0, 0.1, 5.0), inputs[1]],
        [Input("a", 1.0, 0.1, shape="rectangular"), inputs[1]],
        [inputs[0], Input("b", 2.0, inputs[1].u, INF, "trapezoid", "", 0.25)],
        inputs[::-1],
    ]
    seeds = {seed_of(Budget(nothing, other)) for other in others} | {
        seed_of(Budget(nothing, inputs, [("a", "b", 0.1)]))
    }
    assert len(seeds) == 8
    assert seed not in seeds
    assert seed == seed_of(Budget(nothing, [Input("a", 1.0, 0.1, unit="mm"), inputs[1]]))


def test_a_seed_is_not_negative() -> None:
    with pytest.raises(NumberError, match="seed=-1: must be a whole number >= 0"):
        source(-1)


def test_numbers_of_a_seed_are_those_of_every_numpy() -> None:
    """A verdict judged again elsewhere must not change: these were written down with numpy 2.4."""
    rows = draw(*[item for item, _ in SHAPES.values()], count=1, seed=7)
    assert [float(row[0]).hex() for row in rows] == [
        "0x1.b434ce83f7dfcp+1",
        "0x1.96f0983ba6c04p+1",
        "0x1.a98ac6d497b0ap+1",
        "0x1.66c9c43d6881fp+1",
        "0x1.63a373512bb9ap+1",
        "0x1.6ccbe9dc6d6f8p+1",
        "0x1.44067c760e340p+1",
        "0x1.b7a2922f2642cp+1",
        "0x1.c4b4508e051aep+1",
    ]


def test_correlated_inputs_among_others_keep_their_places() -> None:
    """The pair's first draw is the normal numbers themselves; inputs outside the pair are not touched by it."""
    alone, a, b, c = draw(
        Input.limits("alone", 5.0, 1.0),
        Input("a", 1.0, 0.1),
        Input("b", 2.0, 0.2),
        Input("c", 3.0, 0.3),
        correlations=[("a", "c", 0.8)],
        count=20_000,
        seed=11,
    )
    bits = source(11)
    assert alone == approx(5 + (2 * bits.random_sample(20_000) - 1))
    assert b == approx(2 + 0.2 * bits.standard_normal(20_000))
    first, second = bits.standard_normal(20_000), bits.standard_normal(20_000)
    assert a == approx(1 + 0.1 * first)
    assert c == approx(3 + 0.3 * (0.8 * first + 0.6 * second))
