"""Budgets against two independent libraries: `uncertainties` (exact derivatives) and GTC (also degrees of freedom)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import FrozenInstanceError
from functools import partial
from typing import Any

import GTC
import numpy as np
import pytest
import uncertainties
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget, Estimate, Input, Line, effective_dof

gtc: Any = GTC  # it has no types
approx: Any = pytest.approx  # compares with any shape of numbers

INF = math.inf
Model = Callable[..., Any]

# Only arithmetic, so that one function serves floats, arrays and the objects of both libraries.
MODELS: dict[str, Model] = {
    "sum": lambda a, b, c, d: a + b - c + 2 * d,
    "bridge": lambda a, b, c, d: a / (a + b) - c / (c + d),
    "parallel": lambda a, b, c, d: a * b / (a + b) + c * d,
    "powers": lambda a, b, c, d: a**2 * b**-1.5 / (1 + c * d**3),
    "thick wall": lambda a, b, c, d: c * a**2 / ((a + b) ** 2 - a**2) * (1 + d),
}

inputs = st.tuples(st.floats(0.5, 5.0), st.floats(1e-6, 0.05), st.sampled_from([3.0, 4.5, 9.0, 50.0, INF]))


def make(values: tuple[tuple[float, float, float], ...]) -> list[Input]:
    return [Input(name, value, rel * value, dof) for name, (value, rel, dof) in zip("abcd", values, strict=True)]


@settings(max_examples=60)
@given(st.sampled_from(sorted(MODELS)), st.tuples(inputs, inputs, inputs, inputs))
def test_random_budgets_agree_with_uncertainties(name: str, values: tuple[tuple[float, float, float], ...]) -> None:
    estimate = Budget(MODELS[name], made := make(values)).evaluate()
    ufloat: Any = uncertainties.ufloat
    others = [ufloat(i.value, i.u) for i in made]
    result = MODELS[name](*others)
    assert estimate.value == approx(result.n, rel=1e-14)
    assert estimate.u == approx(result.s, rel=1e-5)
    for line, other in zip(estimate.lines, others, strict=True):
        # what rounding leaves of a difference is small against u, not against every line
        assert line.contribution == approx(result.error_components()[other], rel=1e-5, abs=1e-7 * estimate.u)
        assert line.sensitivity == approx(result.derivatives[other], rel=1e-5, abs=1e-7 * estimate.u / line.u)


@settings(max_examples=60)
@given(st.sampled_from(sorted(MODELS)), st.tuples(inputs, inputs, inputs, inputs))
def test_random_budgets_agree_with_gtc(name: str, values: tuple[tuple[float, float, float], ...]) -> None:
    estimate = Budget(MODELS[name], made := make(values)).evaluate()
    result = MODELS[name](*[gtc.ureal(i.value, i.u, i.dof) for i in made])
    assert estimate.value == approx(result.x, rel=1e-14)
    assert estimate.u == approx(result.u, rel=1e-5)
    # above some 1e6 GTC calls the degrees of freedom infinite
    assert estimate.dof == approx(result.df, rel=1e-4) or (estimate.dof > 1e5 and result.df == INF)


def test_lines_hold_the_whole_budget() -> None:
    inputs = [Input("R", 350.0, 0.5, 9.0, "t", "Ω"), Input("I", 0.01, 2e-5, unit="A"), Input.exact("two", 2.0)]
    estimate = Budget(lambda r, i, n: n * r * i, inputs).evaluate()
    assert estimate.value == 7.0
    assert estimate.u == approx(math.hypot(0.01, 0.014), rel=1e-9)
    r, i, two = estimate.lines
    assert r == Line("R", 350.0, 0.5, 9.0, "Ω", approx(0.02), approx(0.01), approx(100 / 296))
    assert i == Line("I", 0.01, 2e-5, INF, "A", approx(700.0), approx(0.014), approx(196 / 296))
    assert two == Line("two", 2.0, 0.0, INF, "", 0.0, 0.0, 0.0)
    assert estimate.dof == approx(9 / (100 / 296) ** 2, rel=1e-8)


def test_an_exact_input_costs_no_call() -> None:
    calls = []

    def counted(a: float, b: float, c: float) -> float:
        calls.append((a, b, c))
        return a + b + c

    Budget(counted, [Input("a", 1.0, 0.1), Input.exact("b", 2.0), Input("c", 3.0, 0.1)]).evaluate()
    assert len(calls) == 1 + 2 * 2
    assert {b for _, b, _ in calls} == {2.0}


def test_nothing_uncertain() -> None:
    estimate = Budget(lambda a: 2 * a, [Input.exact("a", 2.0)]).evaluate()
    assert (estimate.value, estimate.u, estimate.dof) == (4.0, 0.0, INF)
    assert estimate.lines[0].share == 0.0
    assert Budget(lambda: 1.5, []).evaluate() == Estimate(1.5, 0.0, INF)
    assert estimate.expanded(0.95) == (approx(1.96, abs=1e-3), 0.0)


@pytest.mark.parametrize("u", [1e-14, 1e-9, 1e-3, 0.3])
@pytest.mark.parametrize("value", [0.0, 1e-12, -2.5, 3e8])
def test_sensitivity_holds_over_sizes_of_u(value: float, u: float) -> None:
    """A linear model has one slope, whatever the step; the offset makes rounding visible."""
    estimate = Budget(lambda x: 3.0 * x + 1.0, [Input("x", value, u)]).evaluate()
    rounding = 2e-16 * (1 + 3 * abs(value)) / max(u / 32, abs(value) * 2**-24)  # of the difference, over the step
    assert estimate.lines[0].sensitivity == approx(3.0, rel=1e-9, abs=2 * rounding)


def test_smallest_numbers() -> None:
    assert Budget(lambda x: 2.0 * x, [Input("x", 0.0, 5e-324)]).evaluate().lines[0].sensitivity == approx(2.0)
    tiny = Budget(lambda x, y: x - y, [Input("x", 0.0, 3e-170, 4.0), Input("y", 0.0, 4e-170)]).evaluate()
    assert tiny.u == approx(5e-170, rel=1e-12)  # squares would underflow
    assert tiny.dof == approx(4 / 0.6**4, rel=1e-9)


def test_curvature_error_of_the_step() -> None:
    """10 % on a cube: the central difference with u/32 is off by (u/32)²/3 of the slope, 3 parts in a million."""
    estimate = Budget(lambda x: x**3, [Input("x", 1.0, 0.1)]).evaluate()
    assert estimate.lines[0].sensitivity == approx(3.0 + (0.1 / 32) ** 2, rel=1e-9)


def test_the_step_is_no_smaller_than_a_part_in_two_to_the_24_of_the_value() -> None:
    called: list[float] = []

    def model(x: float) -> float:
        called.append(x)
        return x

    Budget(model, [Input("x", 8.0, 1e-14)]).evaluate()
    assert called == approx([8.0, 8.0 + 2.0**-21, 8.0 - 2.0**-21], rel=1e-15)


def test_the_step_stays_within_a_domain_that_ends_near_the_value() -> None:
    """√x at 1 ± 1.5 (u): the whole u below the value is outside the domain, the step is not."""
    assert Budget(math.sqrt, [Input("x", 1.0, 1.5)]).evaluate().u == approx(0.75, rel=1e-3)


def test_models_written_with_numpy_give_plain_floats() -> None:
    estimate = Budget(lambda a, b: np.sqrt(a) * np.exp(b), [Input("a", 4.0, 0.1), Input("b", 0.0, 0.01)]).evaluate()
    numbers = [estimate.value, estimate.u, estimate.dof, *[line.sensitivity for line in estimate.lines]]
    assert [type(number) for number in numbers] == [float] * 5


def failing(message: str) -> Any:
    return pytest.raises(NumberError, match=message)


def test_a_function_that_is_not_finite_at_the_values() -> None:
    def ratio(a: float, b: float) -> float:
        return a / b

    with failing(r"ratio\(a=1.0, b=0.0\): .*division by zero: the model must give a finite number.*wrong unit"):
        Budget(ratio, [Input("a", 1.0, 0.1), Input("b", 0.0, 0.1)]).evaluate()


@pytest.mark.parametrize(
    "model",
    [
        lambda a, b: a + np.log(np.float64(b)),  # numpy: nan with a warning
        lambda a, b: a + math.sqrt(b),  # ValueError
        lambda a, b: a + b**0.5,  # a complex number
        lambda a, b: a + (math.inf if b < 0 else b),
        lambda a, b: a + 10.0 ** (-1e6 * b),  # OverflowError
    ],
)
def test_a_function_that_fails_beside_the_values(model: Model) -> None:
    with failing(r"a=1.0, b=0.001, near b ± 0.1\): .*the model must give a finite number there"):
        Budget(model, [Input("a", 1.0, 0.1), Input("b", 0.001, 0.1)]).evaluate()


def test_the_input_beside_which_the_function_fails_is_named_alone() -> None:
    with failing(r"a=0.001, b=1.0, near a ± 0.1\): "):
        Budget(lambda a, b: math.sqrt(a) + b, [Input("a", 0.001, 0.1), Input("b", 1.0, 0.1)]).evaluate()


def test_numbers_whose_sum_overflows_are_refused_too() -> None:
    with failing(r"\(a=0.0, b=0.0\): not a finite real number: the model"):
        Budget(lambda a, b: 1.5e308 * a + 1.5e308 * b, [Input("a", 0.0, 0.1), Input("b", 0.0, 0.1)]).evaluate()


def test_an_error_of_the_model_itself_comes_through() -> None:
    def wall(t: float) -> float:
        raise NumberError(f"wall={t}: must be thinner than the radius")

    with failing("^wall=5.0: must be thinner"):
        Budget(wall, [Input("t", 5.0, 0.1)]).evaluate()


def test_a_defect_of_the_model_is_not_a_number_error() -> None:
    with pytest.raises(TypeError):
        Budget(lambda a: a, [Input("a", 1.0, 0.1), Input("b", 1.0, 0.1)]).evaluate()


POINTS = np.array([[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]])
PAIR = (Input("a", 1.0, 0.1), Input("b", 4.0, 0.1))


def test_many_points_at_once_are_the_points_one_by_one() -> None:
    found = Budget(lambda a, b: a / (a + b), PAIR).at(POINTS)
    assert found == approx([a / (a + b) for a, b in POINTS.T], rel=1e-15)
    assert Budget(lambda a, b: 7.0, PAIR).at(POINTS).tolist() == [7.0] * 3  # of a model that is a constant
    poles = Budget(lambda a, b: 1 / (a - 2.0), PAIR).at(POINTS)  # numpy's warning is no business of a Monte Carlo run
    assert poles.tolist() == [-1.0, INF, 1.0]


@pytest.mark.parametrize(
    ("model", "message"),
    [
        (
            lambda a, b: math.sqrt(a) + b,
            r"\(a, b\): .*: a model must work on arrays as on floats, element by element; use",
        ),
        (lambda a, b: a if a > b else b, r"\(a, b\): .*: a model must work on arrays"),
        (lambda a, b: np.concatenate([a, b]), r"gave shape \(6,\) for \(3,\): a model must"),
    ],
)
def test_a_model_for_floats_alone_is_told_from_one_for_arrays(model: Model, message: str) -> None:
    with failing(message):
        Budget(model, PAIR).at(POINTS)


def test_an_error_of_the_model_itself_comes_through_at_many_points() -> None:
    def wall(a: Any, b: Any) -> Any:
        raise NumberError("wall: must be thinner than the radius")

    with failing("^wall: must be thinner"):
        Budget(wall, PAIR).at(POINTS)


def test_a_model_is_called_by_its_name_in_a_message_if_it_has_one() -> None:
    def ratio(a: Any, b: Any) -> Any:
        return a / math.floor(b - 4.0)

    for model, name in ((ratio, "ratio"), (partial(ratio), "function")):
        with failing(rf"^{name}\(a=1.0, b=4.0\): "):
            Budget(model, PAIR).evaluate()
        with failing(rf"^{name}\(a, b\): "):
            Budget(model, PAIR).at(POINTS)


def test_records_are_frozen_and_hold_nothing_else() -> None:
    budget = Budget(lambda a: a, [Input("a", 1.0, 0.1)])
    for record, field in ((budget, "inputs"), (budget.evaluate(), "u")):
        assert not hasattr(record, "__dict__")
        with pytest.raises(FrozenInstanceError):
            setattr(record, field, 0.0)
    assert "budget" not in repr(budget.evaluate())  # it would bury the numbers


@pytest.mark.parametrize("coverage", [0.0, 1.0, 95.0])
def test_coverage_is_a_fraction(coverage: float) -> None:
    with failing("coverage="):
        Estimate(1.0, 0.1, 5.0).expanded(coverage)


def test_effective_dof_of_equal_components() -> None:
    assert effective_dof([(1.0, 4.0), (1.0, 4.0)], math.sqrt(2)) == approx(8.0)
    assert effective_dof([(1.0, 7.0), (0.0, 2.0)], 1.0) == 7.0
    assert effective_dof([(0.0, 4.0)], 0.0) == INF
    assert effective_dof([(1.0, INF)], 1.0) == effective_dof([], 0.0) == INF


@given(st.lists(st.floats(-3, 3), min_size=10, max_size=14), st.floats(1e-6, 0.1))
def test_many_inputs_at_once_give_what_one_by_one_gives(values: list[float], u: float) -> None:
    def bent(*x: Any) -> Any:
        return sum((n + 1) * v + v * v for n, v in enumerate(x)) + x[0] * x[1]

    budget = Budget(bent, [Input(f"x{n}", v, u if n % 3 else 2 * u) for n, v in enumerate(values)])
    at_once, one_by_one = budget._at_once(), budget._one_by_one()
    assert at_once is not None
    assert at_once[0] == approx(one_by_one[0], rel=1e-12, abs=1e-12)
    assert at_once[1] == approx(one_by_one[1], rel=1e-6, abs=1e-7)


def test_many_inputs_where_the_model_gives_no_number_name_the_one_that_fails() -> None:
    inputs = [Input(f"x{n}", 1.0, 0.1) for n in range(10)] + [Input("low", 1e-3, 0.1)]
    with pytest.raises(NumberError, match=r"near low ± 0\.1"):
        Budget(lambda *x: sum(x) + np.sqrt(x[-1]), inputs).evaluate()


@pytest.mark.parametrize(("uncertain", "calls"), [(9, 19), (10, 1)])
def test_few_inputs_are_moved_one_by_one_and_many_at_once(uncertain: int, calls: int) -> None:
    seen = []

    def add(*x: Any) -> Any:
        seen.append(np.shape(x[0]))
        return sum(x)

    exact = [Input("exact", 1.0, 0.0) for _ in range(3)]
    inputs = [*exact, *[Input(f"x{n}", 1.0, 0.5) for n in range(uncertain)]]
    estimate = Budget(add, inputs).evaluate()
    assert (estimate.value, estimate.u) == approx((3.0 + uncertain, 0.5 * math.sqrt(uncertain)))
    assert len(seen) == calls


def test_the_points_at_once_are_those_of_central_differences() -> None:
    """Each input alone by a thirty-second of its u, at least by 2^-24 of its value; the last point is the middle."""
    seen = []

    def add(*x: Any) -> Any:
        seen.append(np.array(x))
        return sum(x)

    small = [Input("small", 3.0, 1e-20), Input("none", 0.0, 1e-310)]
    inputs = [*small, Input("exact", 5.0, 0.0), *[Input(f"x{n}", n, 0.32) for n in range(9)]]
    slopes = [line.sensitivity for line in Budget(add, inputs).evaluate().lines]
    (points,) = seen
    middle = np.array([item.value for item in inputs])
    steps = [3 * 2.0**-24, 1e-300, *[0.01] * 9]
    assert points.shape == (12, 23)
    assert points[:, -1].tolist() == middle.tolist()
    for column, (at, step) in enumerate(zip([0, 1, *range(3, 12)], steps, strict=True)):
        off = np.zeros(12)
        off[at] = step
        np.testing.assert_allclose(points[:, column] - middle, off, rtol=1e-9, atol=0)
        np.testing.assert_allclose(middle - points[:, 11 + column], off, rtol=1e-9, atol=0)
    assert slopes == approx([1.0, 0.0, 0.0, *[1.0] * 9], rel=1e-6)  # 1e-300 is lost beside the others


def test_a_model_that_takes_no_arrays_still_has_a_budget() -> None:
    def plain(*x: Any) -> float:
        return math.fsum(float(v) for v in x)

    estimate = Budget(plain, [Input(f"x{n}", 1.0, 0.5) for n in range(16)]).evaluate()
    assert (estimate.value, estimate.u) == approx((16.0, 2.0))
