from __future__ import annotations

import math

import numpy as np
import pytest

from rigproof.errors import NumberError
from rigproof.uncertainty import SHAPES, Input


def test_fields_and_defaults() -> None:
    plain = Input("lead", 0.8, 0.046)
    assert (plain.dof, plain.shape, plain.unit) == (math.inf, "normal", "")
    assert tuple(Input("R", 350.0, 0.6, 9.0, "t", "Ω")) == ("R", 350.0, 0.6, 9.0, "t", "Ω", 0.0, "", "")


def test_frozen_and_small() -> None:
    plain = Input("lead", 0.8, 0.046)
    with pytest.raises(AttributeError):
        plain.value = 1.0  # type: ignore[misc]
    assert not hasattr(plain, "__dict__")


def test_another_name() -> None:
    assert Input("R", 350.0, 0.6, 9.0, "t", "Ω").named("hoop R") == Input("hoop R", 350.0, 0.6, 9.0, "t", "Ω")


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"value": math.nan}, r"lead: value=nan: must be a finite number; look at the reading"),
        ({"value": math.inf}, r"lead: value=inf: must be a finite number"),
        ({"value": -math.inf}, r"lead: value=-inf: must be a finite number"),
        ({"u": -0.1}, r"lead: u=-0.1: a standard uncertainty must be finite and >= 0; give its magnitude"),
        ({"u": math.inf}, r"lead: u=inf"),
        ({"u": math.nan}, r"lead: u=nan"),
        ({"dof": 0.0}, r"lead: dof=0.0: degrees of freedom must be > 0"),
        ({"dof": -1.0}, r"lead: dof=-1.0"),
        ({"dof": -1.0, "u": 0.0}, r"lead: dof=-1.0"),
        ({"dof": math.nan}, r"lead: dof=nan"),
        ({"shape": "uniform"}, r"lead: shape='uniform': must be one of exact, normal, rectangular"),
        ({"shape": "exact"}, r"lead: u=0.046 with shape 'exact': give u = 0 or another shape"),
        (
            {"form": 0.5},
            r"form=0.5 with shape 'normal': must lie in 0..1 for trapezoid or curvilinear trapezoid and be 0",
        ),
        ({"form": 1.1, "shape": "trapezoid"}, r"form=1.1 with shape 'trapezoid'"),
        ({"form": -0.1, "shape": "curvilinear trapezoid"}, r"form=-0.1 with shape 'curvilinear trapezoid'"),
    ],
)
def test_refused(changed: dict[str, object], message: str) -> None:
    with pytest.raises(NumberError, match=message):
        Input(**{"name": "lead", "value": 0.8, "u": 0.046, **changed})  # type: ignore[arg-type]


@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape_may_be_exact(shape: str) -> None:
    assert Input("x", 1.0, 0.0, shape=shape).u == 0  # type: ignore[arg-type]


@pytest.mark.parametrize(("shape", "divisor"), [("rectangular", 3), ("triangular", 6), ("arcsine", 2)])
def test_limits_have_the_standard_deviation_of_their_shape(shape: str, divisor: int) -> None:
    made = Input.limits("x", 5.0, 0.3, shape=shape, dof=12.0, unit="V")  # type: ignore[arg-type]
    assert made.u == pytest.approx(0.3 / math.sqrt(divisor), rel=1e-15)
    assert (made.shape, made.dof, made.unit) == (shape, 12.0, "V")


def test_limits_refuse_a_shape_without_limits() -> None:
    with pytest.raises(NumberError, match="limits need one of rectangular, triangular, arcsine"):
        Input.limits("x", 0.0, 1.0, shape="normal")  # type: ignore[arg-type]


def test_exact() -> None:
    assert Input.exact("turns", 2.0, "1") == Input("turns", 2.0, 0.0, math.inf, "exact", "1")
    with pytest.raises(NumberError, match="shape 'exact'"):
        Input("turns", 2.0, 1.0, shape="exact")


def test_certificate() -> None:
    assert Input.certificate("resistor", 174.8e3, 50.0, 2.0, dof=30.0) == Input("resistor", 174.8e3, 25.0, 30.0)
    assert Input.certificate("resistor", 174.8e3, 50.0, 1.0).u == 50.0
    with pytest.raises(NumberError, match="k=0: a coverage factor must be finite and > 0"):
        Input.certificate("resistor", 174.8e3, 50.0, 0)


def test_readings() -> None:
    made = Input.readings("zero", [1.0, 2.0, 3.0, 6.0], unit="µV/V")
    assert made == Input("zero", 3.0, math.sqrt(14 / 3 / 4), 3.0, "t", "µV/V")


def test_autocorrelated_readings_are_less_sure() -> None:
    wander = np.cumsum(np.random.default_rng(3).normal(size=200))
    independent, aware = Input.readings("zero", wander), Input.readings("zero", wander, autocorrelated=True)
    assert aware.value == independent.value
    assert aware.u > 3 * independent.u
    assert aware.dof < independent.dof / 10


def test_statistics_of_the_twenty_temperatures() -> None:
    """JCGM 100, 4.4.3: s = 1.489 °C of 20 readings is 0.333 °C of their mean, with 19 degrees of freedom."""
    made = Input.statistics("t", 100.145, 1.489, 20, unit="°C")
    assert made.u == pytest.approx(0.333, abs=5e-4)
    assert made == Input("t", 100.145, made.u, 19.0, "t", "°C")
    assert Input.statistics("R", 350.1, 0.2, 2) == Input("R", 350.1, 0.2 / math.sqrt(2), 1.0, "t")
    with pytest.raises(NumberError, match="R: n=1: a standard deviation needs at least 2 readings; take more"):
        Input.statistics("R", 350.1, 0.2, 1)


def test_trapezoids_keep_what_tells_them_apart() -> None:
    """Variances: a²(1 + β²)/6 (JCGM 101, 6.4.4) and (b - a)²/12 + d²/9 (6.4.3)."""
    regular = Input.trapezoid("x", 5.0, 0.3, 1.0, unit="V")
    inexact = Input.inexact_limits("x", 5.0, 0.3, 0.3, unit="V")
    assert (regular.u, inexact.u) == pytest.approx((0.3 / math.sqrt(3), math.sqrt(0.03 + 0.01)))
    assert regular == Input("x", 5.0, regular.u, math.inf, "trapezoid", "V", 1.0)
    assert inexact == Input("x", 5.0, inexact.u, math.inf, "curvilinear trapezoid", "V", 1.0)


@pytest.mark.parametrize(("half_width", "within"), [(0.3, 0.31), (0.3, -0.01), (0.0, 0.0), (0.3, math.nan)])
def test_limits_that_may_meet_are_refused(half_width: float, within: float) -> None:
    with pytest.raises(NumberError, match=f"x: within={within}: must lie in 0..half width .{half_width}.; limits that"):
        Input.inexact_limits("x", 5.0, half_width, within)


def test_no_input_has_a_unit_unless_it_is_given() -> None:
    made = [
        *(Input.exact("x", 1.0), Input.limits("x", 1.0, 0.1), Input.trapezoid("x", 1.0, 0.1, 0.5)),
        *(Input.inexact_limits("x", 1.0, 0.1, 0.01), Input.statistics("x", 1.0, 0.1, 5)),
        *(Input.certificate("x", 1.0, 0.1, 2.0), Input.readings("x", [1.0, 2.0])),
    ]
    assert {one.unit for one in made} == {""}
