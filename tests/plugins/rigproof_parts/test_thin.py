"""Thin-wall theory beside the exact one, and where it is refused."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from rigproof.uncertainty import Budget
from rigproof_parts.cylinder import Cylinder
from rigproof_parts.sphere import Sphere

if TYPE_CHECKING:
    from collections.abc import Callable

    Pipe = Callable[..., Cylinder]
    Ball = Callable[..., Sphere]

E, NU, LOAD = 206e9, 0.29, 35e5
REST = (E, NU, 11.7e-6, 20.0)


def nominal(part: Cylinder | Sphere) -> list[float]:
    return [item.value for item in part.inputs()]


def membrane(ends: str, inside: float, wall: float) -> tuple[float, float]:
    """Hoop and axial strain from the balance of half a ring and of a cap, by Hooke's law."""
    hoop = LOAD * inside / wall
    axial = {"closed": LOAD * np.pi * inside**2 / (2 * np.pi * inside * wall), "open": 0.0, "fixed": NU * hoop}[ends]
    return (hoop - NU * axial) / E, (axial - NU * hoop) / E


@pytest.mark.parametrize("ends", ["closed", "open", "fixed"])
def test_a_thin_cylinder_strains_as_the_membrane_does(pipe: Pipe, ends: str) -> None:
    part = pipe(theory="thin", ends=ends)
    found = part.strain(LOAD, "hoop", 0.21, 0.005, *REST, 1.0)
    assert found == pytest.approx(membrane(ends, 0.1, 0.005), rel=1e-12, abs=1e-18)
    twice = part.strain(LOAD, "hoop", 0.21, 0.005, *REST, 2.0)
    assert np.array(twice) == pytest.approx(2 * np.array(found), rel=1e-12)


def test_a_thin_sphere_strains_as_the_membrane_does(ball: Ball) -> None:
    stress = LOAD * np.pi * 0.1**2 / (2 * np.pi * 0.1 * 0.005)
    found = ball(theory="thin").strain(LOAD, "surface", 0.21, 0.005, *REST, 1.0)
    assert found == pytest.approx((stress * (1 - NU) / E,) * 2, rel=1e-12)
    assert ball(theory="thin").strain(LOAD, "surface", 0.21, 0.005, *REST, 2.0)[0] == pytest.approx(2 * found[0])


@given(wall_mm=st.floats(0.5, 9.0), ends=st.sampled_from(["closed", "open", "fixed"]))
def test_the_limits_of_the_theory_just_hold_the_exact_strain(pipe: Pipe, wall_mm: float, ends: str) -> None:
    wall = f"{wall_mm:.3f} mm"
    thin, thick = pipe(theory="thin", wall=wall, ends=ends), pipe(wall=wall, ends=ends)
    said = thin.strain(LOAD, "hoop", *nominal(thin))
    exact = thick.strain(LOAD, "hoop", *nominal(thick))
    for one, other in zip(said, exact, strict=True):
        if other != 0:  # no axial strain where the ends are fixed
            assert float(one) / float(other) - 1 == pytest.approx(thin.thin_overstates(), rel=1e-6)
    last = thin.inputs()[-1]
    assert (last.name, last.value, last.shape) == ("thin-wall theory", 1.0, "rectangular")
    assert last.u * 3**0.5 == pytest.approx(thin.thin_overstates(), rel=1e-12)


@given(wall_mm=st.floats(0.5, 9.0))
def test_the_limits_of_the_theory_hold_for_spheres(ball: Ball, wall_mm: float) -> None:
    thin, thick = ball(theory="thin", wall=f"{wall_mm:.3f} mm"), ball(wall=f"{wall_mm:.3f} mm")
    said, exact = (float(part.strain(LOAD, "surface", *nominal(part))[0]) for part in (thin, thick))
    assert said / exact - 1 == pytest.approx(thin.thin_overstates(), rel=1e-6)


def test_the_theory_stands_in_the_budget(pipe: Pipe) -> None:
    part = pipe(theory="thin")
    estimate = Budget(lambda *values: part.strain(LOAD, "hoop", *values)[0], part.inputs()).evaluate()
    shares = {line.input: line.share for line in estimate.lines}
    assert shares["thin-wall theory"] > shares["wall"]


def test_yield_is_exact_with_either_theory(pipe: Pipe, ball: Ball) -> None:
    for make in (pipe, ball):
        assert make(theory="thin").yield_load() == make().yield_load()


def test_shut_in_water_knows_the_theory_too(pipe: Pipe, ball: Ball) -> None:
    for make in (pipe, ball):
        thin, thick = make(theory="thin"), make()
        soft, stiff = (part.load_per_kelvin(LOAD, *nominal(part)) for part in (thin, thick))
        assert soft == pytest.approx(stiff, rel=0.03)
        assert soft != stiff
        assert thin.volume_strain(1e6, *nominal(thin)) == pytest.approx(
            thick.volume_strain(1e6, *nominal(thick)), rel=0.06
        )


@pytest.mark.parametrize("wall", ["20 mm", "10 mm"])
def test_a_thick_wall_is_refused_with_its_ratio(pipe: Pipe, ball: Ball, wall: str) -> None:
    ratio = (219.1 * 0.998 / 2 - float(wall.split()[0])) / float(wall.split()[0])
    message = rf"the wall of '{wall}' gives r/t = {ratio:.4g} \(inside radius over wall, limits included\), and thin-"
    for make in (pipe, ball):
        with pytest.raises(ValidationError, match=message) as refused:
            make(theory="thin", wall=wall)
        (error,) = refused.value.errors()
        assert error["loc"] == ("theory",)
        assert "thin-wall theory needs r/t of at least 10; write `theory: thick`, or leave it out" in error["msg"]


def test_the_limit_itself_is_thin(pipe: Pipe) -> None:
    assert pipe(theory="thin", outside_diameter="220 mm", wall="10 mm").theory == "thin"
    with pytest.raises(ValidationError, match=r"r/t = 9\.995"):
        pipe(theory="thin", outside_diameter="219.9 mm", wall="10 mm")


def test_thin_walls_have_no_inside(pipe: Pipe) -> None:
    with pytest.raises(ValidationError, match="does not tell the inside from the outside; write `theory: thick`"):
        pipe(theory="thin", gauge_surface="inside")


def test_a_wrong_size_hides_nothing_and_is_told_once(pipe: Pipe) -> None:
    for changes, places in (
        ({"wall": "1 bar"}, [("wall",)]),
        ({"outside_diameter": "1 bar"}, [("outside diameter",)]),
        ({"theory": "shell"}, [("theory",)]),
    ):
        with pytest.raises(ValidationError) as refused:
            pipe(**({"theory": "thin"} | changes))
        assert [error["loc"] for error in refused.value.errors()] == places


def test_arrays_give_what_numbers_give(pipe: Pipe, ball: Ball) -> None:
    rng = np.random.default_rng(6)
    for part in (pipe(theory="thin"), ball(theory="thin")):
        inputs = [rng.uniform(0.98, 1.02, 20) * value for value in nominal(part)]
        rows = [[float(v) for v in row] for row in zip(*inputs, strict=True)]
        strains = np.array([part.strain(2e6, part.places[0], *row) for row in rows]).T
        assert np.array(part.strain(2e6, part.places[0], *inputs)) == pytest.approx(strains, rel=1e-12)
