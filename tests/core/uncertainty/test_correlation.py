from __future__ import annotations

import math
from typing import Any

import GTC
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget, Input
from rigproof.uncertainty.correlation import correlation_matrix

gtc: Any = GTC  # it has no types
INF = math.inf


def product(a: Any, b: Any, c: Any) -> Any:
    return a * b / c


@settings(max_examples=40)
@given(st.floats(-0.9, 0.9), st.floats(-0.4, 0.4), st.floats(1e-5, 0.03))
def test_agrees_with_gtc(r_ab: float, r_bc: float, relative: float) -> None:
    values = {"a": 2.0, "b": 5.0, "c": 0.7}
    inputs = [Input(name, value, relative * value) for name, value in values.items()]
    estimate = Budget(product, inputs, [("a", "b", r_ab), ("c", "b", r_bc)]).evaluate()
    others = [gtc.ureal(i.value, i.u, independent=False) for i in inputs]
    gtc.set_correlation(r_ab, others[0], others[1])
    gtc.set_correlation(r_bc, others[1], others[2])
    result = product(*others)
    assert estimate.value == pytest.approx(result.x, rel=1e-14)
    assert estimate.u == pytest.approx(result.u, rel=1e-5)
    assert estimate.dof == INF


@pytest.mark.parametrize("dof", [4.0, 11.0])
def test_degrees_of_freedom_of_an_ensemble_agree_with_gtc(dof: float) -> None:
    """a and b observed together (one dof), c apart: the ensemble is one component (Willink 2007)."""
    inputs = [Input("a", 2.0, 0.02, dof), Input("b", 5.0, 0.03, dof), Input("c", 0.7, 0.01, 7.0)]
    estimate = Budget(product, inputs, [("a", "b", -0.4)]).evaluate()
    a, b = gtc.multiple_ureal([2.0, 5.0], [0.02, 0.03], dof)
    gtc.set_correlation(-0.4, a, b)
    result = product(a, b, gtc.ureal(0.7, 0.01, 7.0))
    assert estimate.u == pytest.approx(result.u, rel=1e-6)
    assert estimate.dof == pytest.approx(result.df, rel=1e-5)


def test_correlated_type_b_inputs_keep_infinite_dof_beside_finite_ones() -> None:
    inputs = [Input("a", 2.0, 0.02), Input("b", 5.0, 0.05), Input("c", 0.7, 0.007, 5.0)]
    estimate = Budget(product, inputs, [("a", "b", 1.0)]).evaluate()
    share = 0.01**2 / (0.02**2 + 0.01**2)  # a and b add up linearly
    assert estimate.dof == pytest.approx(5.0 / share**2, rel=1e-6)


def test_unequal_dof_take_the_fewest_and_an_input_that_does_not_matter_takes_none() -> None:
    both = [("a", "b", 0.5), ("b", "c", 0.1)]
    inputs = [Input("a", 1.0, 0.1, 12.0), Input("b", 1.0, 0.1, 6.0), Input("c", 1.0, 0.1, 2.0)]
    assert Budget(lambda a, b, c: a + b + c, inputs, both).evaluate().dof == pytest.approx(2.0)
    assert Budget(lambda a, b, c: a + b + 0 * c, inputs, both).evaluate().dof == pytest.approx(6.0)


def test_groups_join_through_others() -> None:
    """a-b and c-d are linked by b-c, given last: one component."""
    inputs = [Input(name, 1.0, 0.1, 5.0) for name in "abcd"]
    pairs = [("a", "b", 0.2), ("c", "d", 0.2), ("b", "c", 0.1)]
    estimate = Budget(lambda *x: sum(x), inputs, pairs).evaluate()
    assert estimate.dof == pytest.approx(5.0)
    assert estimate.u == pytest.approx(0.1 * math.sqrt(4 + 2 * (0.2 + 0.2 + 0.1)), rel=1e-9)


def test_full_correlation_cancels_in_a_difference() -> None:
    inputs = [Input("a", 3.0, 0.2, 5.0), Input("b", 2.0, 0.2, 5.0)]
    estimate = Budget(lambda a, b: a - b, inputs, [("a", "b", 1.0)]).evaluate()
    assert estimate.u == pytest.approx(0.0, abs=1e-7)
    assert Budget(lambda a, b: a - b, inputs, [("a", "b", -1.0)]).evaluate().u == pytest.approx(0.4, rel=1e-9)


def test_shares_do_not_add_up_when_correlated() -> None:
    inputs = [Input("a", 1.0, 0.1), Input("b", 1.0, 0.1)]
    lines = Budget(lambda a, b: a + b, inputs, [("a", "b", 0.5)]).evaluate().lines
    assert [line.share for line in lines] == pytest.approx([1 / 3, 1 / 3])


def test_matrix() -> None:
    matrix = correlation_matrix(["a", "b", "c"], [("c", "a", 0.3)])
    assert matrix.tolist() == [[1.0, 0.0, 0.3], [0.0, 1.0, 0.0], [0.3, 0.0, 1.0]]


def test_rounded_published_coefficients_pass() -> None:
    """r = 1 among three, one coefficient rounded: the least eigenvalue is a hair below zero."""
    correlation_matrix(["a", "b", "c"], [("a", "b", 1.0), ("b", "c", 1.0), ("a", "c", 0.9999999)])


@pytest.mark.parametrize(
    ("pairs", "message"),
    [
        ([("a", "x", 0.1)], "'a' and 'x': 'x' names 0 inputs; use one of: a, b, c"),
        ([("a", "a", 1.0)], "'a' and 'a': r=1.0: a pair of two different inputs is given once"),
        ([("a", "b", 0.1), ("b", "a", 0.1)], "'b' and 'a': r=0.1: .* leave out the repetition"),
        ([("a", "b", 1.01)], r"r=1.01: must lie in -1..1; divide the covariance"),
        ([("a", "b", -1.01)], r"r=-1.01: must lie in -1..1"),
        ([("a", "b", math.nan)], r"r=nan: must lie in -1..1"),
        ([("a", "b", 0.9), ("b", "c", 0.9), ("a", "c", -0.9)], "smallest eigenvalue -0.8: .*positive semidefinite"),
    ],
)
def test_refused(pairs: list[tuple[str, str, float]], message: str) -> None:
    inputs = [Input(name, 1.0, 0.1) for name in "abc"]
    with pytest.raises(NumberError, match=message):
        Budget(product, inputs, pairs).evaluate()


def test_a_name_used_twice_is_ambiguous() -> None:
    inputs = [Input("gauge factor", 2.08, 0.01), Input("gauge factor", 2.08, 0.01)]
    with pytest.raises(NumberError, match="names 2 inputs"):
        Budget(lambda a, b: a - b, inputs, [("gauge factor", "gauge factor", 1.0)]).evaluate()
    assert Budget(lambda a, b: a - b, inputs).evaluate().u == pytest.approx(0.01 * math.sqrt(2))


def test_against_simulation() -> None:
    """10^5 draws of three correlated normal inputs through a nearly linear model."""
    inputs = [Input("a", 2.0, 0.004), Input("b", 5.0, 0.02), Input("c", 0.7, 0.002)]
    pairs = [("a", "b", 0.6), ("b", "c", -0.5)]
    u = np.diag([i.u for i in inputs])
    covariance = u @ correlation_matrix(["a", "b", "c"], pairs) @ u
    draws = np.random.default_rng(5).multivariate_normal([i.value for i in inputs], covariance, 100_000)
    estimate = Budget(product, inputs, pairs).evaluate()
    assert estimate.u == pytest.approx(product(*draws.T).std(), rel=0.01)
