"""Laws of sums by convolution: closed forms, scipy's quadrature, and trials whose coverage is counted."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, special
from scipy import stats as scipy_stats

from rigproof.uncertainty import (
    Budget,
    Convolved,
    Estimate,
    Input,
    Law,
    Rule,
    Student,
    Tolerance,
    decide_by,
    first_order_law,
)
from rigproof.uncertainty.convolution import _of_shape, _of_t
from rigproof.uncertainty.inputs import Shape

approx: Any = pytest.approx
stats: Any = scipy_stats  # it has no types
INF = math.inf


def add(*x: Any) -> Any:
    return sum(x)


def law_of(*inputs: Input, correlations: Any = ()) -> Law:
    return first_order_law(Budget(add, inputs, correlations).evaluate())


def ends(law: Law, coverage: float = 0.99) -> float:
    low, high = law.coverage(coverage)
    assert low == -high
    return high


def box(name: str, half: float) -> Input:
    return Input.limits(name, 0.0, half)


def irwin_hall(x: float, n: int) -> float:
    """Distribution function of the sum of n numbers even on 0..1 (Hall, Irwin: Biometrika 19, 1927)."""
    terms = [float((-1) ** k * math.comb(n, k) * (x - k) ** n) for k in range(math.floor(x) + 1)]
    return math.fsum(terms) / math.factorial(n)


@pytest.mark.parametrize("coverage", [0.5, 0.9, 0.95, 0.99, 0.999])
def test_one_rectangle(coverage: float) -> None:
    assert ends(law_of(box("a", 2.0)), coverage) == approx(2.0 * coverage, abs=2e-4)


@pytest.mark.parametrize("coverage", [0.5, 0.9, 0.95, 0.99, 0.999])
@pytest.mark.parametrize("other", [1.0, 0.5, 0.2])
def test_two_rectangles_are_a_trapezoid(coverage: float, other: float) -> None:
    """A triangle when they are alike: 2 (1 - √(1 - p))."""
    law = stats.trapezoid(*((0.5 - s * (1 - other) / (1 + other) / 2) for s in (1, -1)), -1 - other, 2 + 2 * other)
    found = ends(law_of(box("a", 1.0), box("b", other)), coverage)
    assert found == approx(float(law.ppf(0.5 + coverage / 2)), abs=1e-4)
    if other == 1.0:
        assert found == approx(2 * (1 - math.sqrt(1 - coverage)), abs=1e-4)


@pytest.mark.parametrize("n", [3, 4, 7, 12])
def test_many_equal_rectangles_are_irwin_and_halls(n: int) -> None:
    law = law_of(*(box(f"x{k}", 0.5) for k in range(n)))
    for coverage in (0.6, 0.9, 0.95, 0.99, 0.999):
        assert irwin_hall(n / 2 + ends(law, coverage), n) == approx(0.5 + coverage / 2, abs=2e-6)


@pytest.mark.parametrize(
    "item",
    [
        Input.limits("x", 0.0, 1.0, shape="triangular"),
        Input.trapezoid("x", 0.0, 1.0, 0.4),
        Input.trapezoid("x", 0.0, 1.0, 0.0),
        Input.trapezoid("x", 0.0, 1.0, 1.0),
    ],
)
def test_a_trapezoid_alone(item: Input) -> None:
    law = stats.trapezoid(0.5 - item.form / 2, 0.5 + item.form / 2, -1, 2)
    for coverage in (0.5, 0.95, 0.99):
        assert ends(law_of(item), coverage) == approx(float(law.ppf(0.5 + coverage / 2)), abs=2e-4)


@pytest.mark.parametrize(
    "item", [Input.limits("x", 0.0, 1.0, shape="arcsine"), Input.inexact_limits("x", 0.0, 1.0, 0.5)]
)
def test_characteristic_functions_of_shapes_no_document_states(item: Input) -> None:
    """∫ cos(t x) p(x) dx: J0 for the arcsine; JCGM 101, 6.4.3.2, for limits that are not exact, with u = 1."""
    t = np.array([0.05, 0.7, 3.0, 17.0, 30.0])
    (found,) = _of_shape(item, t)
    if item.shape == "arcsine":
        assert found == approx(special.j0(t * math.sqrt(2)), abs=1e-12)
        return
    half, within = 1 / item.u, 0.5 / item.u

    def density(x: float) -> float:
        return math.log((half + within) / max(abs(x), half - within)) / (4 * within)

    ends_of = (half - within, half + within)
    exact = [
        2 * sum(integrate.quad(lambda x, at=at: math.cos(at * x) * density(x), *part, limit=500)[0] for part in parts)
        for at in t
        for parts in [((0, ends_of[0]), ends_of)]
    ]
    assert found == approx(exact, abs=1e-6)


@pytest.mark.parametrize("dof", [2.1, 3.0, 4.0, 9.0, 49.0, 2000.0])
def test_characteristic_function_of_t(dof: float) -> None:
    """K_(ν/2)(√ν t) (√ν t)^(ν/2) / (Γ(ν/2) 2^(ν/2-1)), here by scipy's quadrature of the density."""
    for t in (0.1, 0.5, 1.0, 3.0, 6.0):
        exact, _ = integrate.quad(stats.t(dof).pdf, 0, INF, weight="cos", wvar=t)
        assert _of_t(np.array([t]), dof) == approx(2 * exact, abs=1e-7)


def exact_tail(x: float, half: float, scale: float, dof: float) -> float:
    """P(E > x) of a rectangle of `half` width plus a t of `scale`."""
    other = stats.t(dof, scale=scale) if dof < INF else stats.norm(scale=scale)
    inside = [p for p in (x - 8 * scale, x, x + 8 * scale) if -half < p < half]
    return float(integrate.quad(lambda r: other.sf(x - r), -half, half, points=inside, limit=400)[0] / (2 * half))


@pytest.mark.parametrize("dof", [INF, 30.0, 5.0, 3.0])
@pytest.mark.parametrize("scale", [0.03, 0.1, 0.5, 2.0])
def test_a_rectangle_and_a_normal_or_t(scale: float, dof: float) -> None:
    law = law_of(box("a", 1.0), Input("b", 0.0, scale, dof, "t" if dof < INF else "normal"))
    for coverage in (0.6, 0.95, 0.99):
        high = ends(law, coverage)
        assert exact_tail(high, 1.0, scale, dof) == approx((1 - coverage) / 2, abs=2e-4)


MIXED = [box("a", 1.0), box("b", 0.4), Input("c", 0.0, 0.3), Input("d", 0.0, 0.2, 9.0, "t")]
MANY = [
    *(box(f"b{n}", 1.0 / (n + 1)) for n in range(8)),
    Input("wall", 0.0, 0.4),
    Input("reading", 0.0, 0.1, 49.0, "t"),
]


@pytest.mark.parametrize(
    "inputs",
    [
        [box("a", 1.0)],
        [box("a", 1.0), box("b", 0.3)],
        [box("a", 1.0), Input("n", 0.0, 0.1)],
        MIXED,
        MANY,
        [Input.limits("a", 0.0, 1.0, shape="arcsine"), Input("n", 0.0, 0.2)],
    ],
    ids=["one", "two", "with normal", "mixed", "many", "arcsine"],
)
def test_coverage_that_is_what_it_says(inputs: list[Input]) -> None:
    """Two million draws by numpy, none of ours: 99 ± 0.1 % lie inside (three standard deviations are 0.021 %)."""
    bits, count = np.random.default_rng(7), 2_000_000
    total = np.zeros(count)
    for item in inputs:
        match item.shape:
            case "rectangular":
                total += bits.uniform(-1, 1, count) * item.u * math.sqrt(3)
            case "arcsine":
                total += np.sin(bits.uniform(0, 2 * math.pi, count)) * item.u * math.sqrt(2)
            case "t":
                total += bits.standard_t(item.dof, count) * item.u
            case _:
                total += bits.standard_normal(count) * item.u
    law = law_of(*inputs)
    assert np.mean(np.abs(total) <= ends(law)) == approx(0.99, abs=1e-3)
    (upper, _) = law.acceptance_bands(0.05, INF)
    assert np.mean(total > upper) == approx(0.05, abs=1e-3)
    assert law.between(-0.5, 0.8) == approx(np.mean((total >= -0.5) & (total <= 0.8)), abs=1.5e-3)


def test_normal_and_t_inputs_keep_welch_and_satterthwaite() -> None:
    inputs = [Input("a", 0.0, 1.0), Input("b", 0.0, 0.5, 7.0, "t"), Input.exact("c", 3.0)]
    estimate = Budget(add, inputs).evaluate()
    assert first_order_law(estimate) == Student(estimate.u, estimate.dof)


def test_a_small_rectangle_shows_no_shape() -> None:
    inputs = [Input("a", 0.0, 1.0), Input("b", 0.0, 0.02, shape="rectangular")]
    assert isinstance(law_of(*inputs), Student)
    assert isinstance(law_of(inputs[0], Input("b", 0.0, 0.05, shape="rectangular")), Convolved)


@pytest.mark.parametrize(
    ("other", "shape"),
    [(Input("few", 0.0, 0.1, 2.0, "t"), Student), (Input("more", 0.0, 0.1, 2.5, "t"), Convolved)],
)
def test_two_or_three_readings_have_no_spread_to_convolve(other: Input, shape: type) -> None:
    assert isinstance(law_of(box("a", 1.0), other), shape)


def test_what_was_worked_out_elsewhere_is_t() -> None:
    assert first_order_law(Estimate(1.0, 0.5, 7.0)) == Student(0.5, 7.0)


def test_normal_input_of_two_degrees_of_freedom() -> None:
    assert isinstance(law_of(box("a", 1.0), Input("few", 0.0, 0.1, 2.0)), Student)


@pytest.mark.parametrize("scale", [0.05, 0.6])
def test_a_t_part_of_many_degrees_of_freedom_counts_as_normal(scale: float) -> None:
    """Its law is a normal one's to 2e-4; the tails of the t would show in the seventh digit."""
    many = Input("b", 0.0, scale, 2.1e4 if scale > 0.5 else 200.0, "t")
    assert ends(law_of(box("a", 1.0), many)) == ends(law_of(box("a", 1.0), Input("b", 0.0, scale)))


def test_half_of_the_law_lies_beyond_its_middle() -> None:
    law = law_of(*MIXED)
    assert law.acceptance_bands(0.5, INF) == law.rejection_bands(0.5, INF) == (0.0, 0.0)
    assert law.coverage(0.0) == (0.0, 0.0)


def test_correlated_inputs() -> None:
    """Normal ones are one normal of their joint variance; one that is not normal leaves nothing but the t law."""
    pair = [Input("a", 0.0, 0.3), Input("b", 0.0, 0.4)]
    joint = math.sqrt(0.09 + 0.16 + 2 * 0.8 * 0.12)
    law = law_of(*pair, box("r", 1.0), correlations=[("a", "b", 0.8)])
    assert isinstance(law, Convolved)
    assert ends(law) == approx(ends(law_of(Input("ab", 0.0, joint), box("r", 1.0))), rel=1e-9)
    assert isinstance(law_of(*pair, box("r", 1.0), correlations=[("a", "r", 0.8)]), Student)


def test_no_uncertainty_is_certain() -> None:
    assert law_of(Input.exact("a", 1.0)) == Student(0.0)


def test_a_law_is_as_wide_as_its_u_and_the_same_every_time() -> None:
    law, again = law_of(*MIXED), law_of(*MIXED[::-1])
    assert ends(law) == ends(law_of(*MIXED))
    assert ends(again) == approx(ends(law), rel=1e-7)
    assert law.scaled(3.0).u == 3.0 * law.u
    assert ends(law.scaled(3.0)) == approx(3 * ends(law), rel=1e-12)
    assert law.between(-INF, INF) == 1.0
    assert law.between(0.0, INF) == law.between(-INF, 0.0) == approx(0.5, abs=1e-6)
    assert law.between(0.3, 0.9) == approx(law.between(-0.9, -0.3), abs=1e-12)
    assert law.between(50.0, INF) == 0.0


def test_a_stretch_beside_the_middle() -> None:
    """Even on -1..1: half the width of a stretch; with a normal beside it by scipy's quadrature."""
    law = law_of(box("a", 1.0))
    assert law.between(0.25, 0.75) == approx(0.25, abs=1e-3)
    assert law.between(-0.9, -0.3) == approx(0.3, abs=1e-3)
    assert law.between(0.9, 0.3) == 0.0  # an empty stretch
    law = law_of(box("a", 1.0), Input("b", 0.0, 0.5))
    assert law.between(0.3, 0.9) == approx(exact_tail(0.3, 1.0, 0.5, INF) - exact_tail(0.9, 1.0, 0.5, INF), abs=1e-5)


@pytest.mark.parametrize("risk", [0.01, 0.05, 0.2])
def test_a_tolerance_too_narrow_for_any_value(risk: float) -> None:
    """The band is the half width of the least tolerance whose middle could still be accepted."""
    law = law_of(*MIXED)
    band, other = law.acceptance_bands(risk, law.u)
    assert band == other
    assert 1 - law.between(-band, band) == approx(risk, abs=1e-9)


shapes = st.sampled_from(["rectangular", "triangular", "normal"])


@settings(max_examples=60)
@given(
    st.lists(st.tuples(shapes, st.floats(0.1, 1.0)), min_size=1, max_size=5),
    st.floats(0.5, 12.0),
    st.floats(0.01, 0.4),
    st.floats(-6.0, 6.0),
)
def test_bands_say_what_they_mean(pieces: list[tuple[Shape, float]], width: float, risk: float, value: float) -> None:
    """On an acceptance limit the true value fails with the risk; beyond a rejection limit it conforms with less."""
    law = law_of(*(Input(f"x{n}", 0.0, u, INF, shape) for n, (shape, u) in enumerate(pieces)))
    decision = decide_by(value, law, Tolerance(-width / 2, width / 2), Rule("guarded acceptance", risk))
    inside, outside = law.acceptance_bands(risk, width)[0], law.rejection_bands(risk, width)[0]
    if 2 * inside <= width:
        assert 1 - law.between(inside - width, inside) == approx(risk, abs=1e-6)
    else:
        assert decision.acceptance_lower is None
    assert 1 - law.between(-outside, width + outside) == approx(risk, abs=1e-6)
    if decision.finding == "accept":
        assert decision.conformance_probability >= 1 - risk - 1e-6
    if decision.finding == "reject":
        assert decision.conformance_probability <= risk + 1e-6
