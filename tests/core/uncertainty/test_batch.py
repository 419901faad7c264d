"""A batch must give what budgets one by one give."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget, Input, evaluate_many

approx: Any = pytest.approx
INF = math.inf


def model(a: Any, b: Any, c: Any) -> Any:
    return a * b / (a + b) + c**3 * a


@pytest.fixture
def many() -> tuple[Any, Any, Any]:
    bits = np.random.default_rng(3)
    u = bits.uniform(0, 0.1, (3, 40))
    u[0, :5] = 0.0
    u[:, 7] = 0.0
    u[1, 8] = 1e-12
    return bits.uniform(0.5, 2, (3, 40)), u, bits.choice([2.0, 7.5, INF], (3, 40))


def test_each_set_is_its_budget(many: tuple[Any, Any, Any]) -> None:
    values, u, dof = many
    batch = evaluate_many(model, values, u, dof)
    for m in range(40):
        inputs = [Input(str(n), values[n, m], u[n, m], dof[n, m]) for n in range(3)]
        one = Budget(model, inputs).evaluate()
        assert (batch.value[m], batch.u[m], batch.dof[m]) == approx((one.value, one.u, one.dof), rel=1e-12)
        for n, line in enumerate(one.lines):
            found = batch.sensitivity[n, m], batch.contribution[n, m], batch.share[n, m]
            assert found == approx((line.sensitivity, line.contribution, line.share), rel=1e-12)


def test_uncertainties_common_to_all_sets(many: tuple[Any, Any, Any]) -> None:
    values = many[0]
    batch = evaluate_many(model, values, [[0.1], [0.2], [0.0]], [[INF], [4.0], [1.0]])
    one = Budget(
        model, [Input("a", values[0, 9], 0.1), Input("b", values[1, 9], 0.2, 4.0), Input("c", values[2, 9], 0.0)]
    ).evaluate()
    assert (batch.u[9], batch.dof[9]) == approx((one.u, one.dof))
    assert (batch.share[2] == 0).all()
    assert np.isinf(evaluate_many(model, values, 0.1).dof).all()


def test_an_exact_input_costs_no_call() -> None:
    calls = []

    def counted(a: Any, b: Any) -> Any:
        calls.append(1)
        return a + b

    evaluate_many(counted, np.ones((2, 5)), [[0.1], [0.0]])
    assert len(calls) == 3


def test_a_constant_function() -> None:
    batch = evaluate_many(lambda a: 4.0, np.ones((1, 3)), 0.1)
    assert batch.value.tolist() == [4.0] * 3
    assert batch.u.tolist() == [0.0] * 3
    assert batch.share.tolist() == [[0.0] * 3]
    assert batch.dof.tolist() == [INF] * 3


def test_the_given_arrays_are_left_alone(many: tuple[Any, Any, Any]) -> None:
    before = [array.copy() for array in many]
    evaluate_many(model, *many)
    assert all((a == b).all() for a, b in zip(before, many, strict=True))


@pytest.mark.parametrize(
    ("values", "u", "dof", "message"),
    [
        ([[1.0, math.nan]], 0.1, INF, "values: input 0, set 1: nan: must be finite"),
        ([[1.0, 2.0]], [[0.1, -0.1]], INF, r"u: input 0, set 1: -0\.1: a standard uncertainty"),
        ([[1.0, 2.0]], INF, INF, "u: input 0, set 0: inf: a standard uncertainty"),
        ([[1.0, 2.0]], 0.1, 0.0, r"dof: input 0, set 0: 0\.0: degrees of freedom"),
        ([1.0, 2.0], 0.1, INF, r"values: shape=\(2,\): must be \(inputs, sets\)"),
        (np.empty((1, 0)), 0.1, INF, "must be .inputs, sets.; stack one row per input"),
        ([[1.0, 2.0]], [[0.1] * 3], INF, r"u: shape=\(1, 3\): must broadcast to \(1, 2\)"),
        ([[1.0, 0.0]], 0.1, INF, r"set 1: function\(0\.0\): not a finite number there or beside it"),
    ],
)
def test_bad_numbers(values: Any, u: Any, dof: Any, message: str) -> None:
    with pytest.raises(NumberError, match=message):
        evaluate_many(lambda x: 1 / x, values, u, dof)


def test_a_function_of_another_shape() -> None:
    with pytest.raises(NumberError, match=r"function gave shape \(2,\) for 3 sets"):
        evaluate_many(lambda x: x[:2], np.ones((1, 3)), 0.1)


def test_whole_numbers_are_taken_as_floats() -> None:
    batch = evaluate_many(lambda a, b: a / b, np.array([[1, 3], [2, 4]]), np.array([[1], [0]]), np.array([[3], [4]]))
    assert batch.value.tolist() == [0.5, 0.75]
    assert batch.u == approx(np.array([0.5, 0.25]))
    assert batch.dof == approx(np.array([3.0, 3.0]))


def test_an_exact_input_before_an_uncertain_one() -> None:
    batch = evaluate_many(lambda a, b: a + 3 * b, np.ones((2, 4)), [[0.0], [0.5]])
    assert batch.u == approx(np.full(4, 1.5))


def test_a_slope_that_is_no_number_is_found_in_its_set() -> None:
    with pytest.raises(NumberError, match=r"set 1: function\(0\.001, 2\.0\): not a finite number there or beside it"):
        evaluate_many(lambda a, b: np.sqrt(a) + b, [[1.0, 0.001, 4.0], [1.0, 2.0, 3.0]], 0.2)
    with pytest.raises(NumberError, match=r"dof: shape=\(3,\): must broadcast"):
        evaluate_many(lambda a: a, [[1.0, 2.0]], 0.1, [1.0, 2.0, 3.0])
