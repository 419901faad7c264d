from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.errors import NumberError
from rigproof_parts.sphere import Sphere

if TYPE_CHECKING:
    from collections.abc import Callable

    Ball = Callable[..., Sphere]
    WallSolver = Callable[..., Any]

E, NU = 206e9, 0.29


def nominal(part: Sphere) -> list[float]:
    return [item.value for item in part.inputs()]


@pytest.mark.parametrize("surface", ["outside", "inside"])
@pytest.mark.parametrize("ratio", [1.02, 1.25, 2.0])
def test_strains_are_those_of_the_equations_of_elasticity(
    ball: Ball, sphere_wall: WallSolver, surface: str, ratio: float
) -> None:
    solved = sphere_wall(0.1 / ratio, 0.1, E, NU, 1e6)
    strain = solved.hoop[-1 if surface == "outside" else 0]
    found = ball(gauge_surface=surface).strain(1e6, "surface", 0.2, 0.1 - 0.1 / ratio, E, NU, 11.7e-6, 20.0)
    assert found == pytest.approx((strain, strain), rel=1e-6)


@pytest.mark.parametrize("wall_mm", [2.0, 30.0, 70.0])
def test_yield_starts_at_the_bore(ball: Ball, sphere_wall: WallSolver, wall_mm: float) -> None:
    part, b = ball(wall=f"{wall_mm} mm"), 0.2191 / 2
    solved = sphere_wall(b - wall_mm / 1000, b, E, NU, part.yield_load())
    assert solved.von_mises().max() == pytest.approx(235e6, rel=1e-6)
    assert solved.von_mises().argmax() == 0


def test_volume_strain_is_that_of_the_bore(ball: Ball, sphere_wall: WallSolver) -> None:
    part = ball(wall="20 mm")
    solved = sphere_wall(0.2191 / 2 - 0.02, 0.2191 / 2, E, NU, 1e6)
    assert part.volume_strain(1e6, *nominal(part)) == pytest.approx((1 + solved.hoop[0]) ** 3 - 1, rel=1e-4)


@given(wall=st.floats(0.0005, 0.002))
def test_a_thin_sphere_strains_as_the_membrane_does(ball: Ball, wall: float) -> None:
    mean = 0.1 - wall / 2
    membrane = 1e6 * mean * (1 - NU) / (2 * wall * E)
    found, _ = ball().strain(1e6, "surface", 0.2, wall, E, NU, 11.7e-6, 20.0)
    assert found == pytest.approx(membrane, rel=2 * wall / mean)


def test_arrays_give_what_numbers_give(ball: Ball) -> None:
    part, rng = ball(gauge_surface="inside"), np.random.default_rng(4)
    inputs = [rng.uniform(0.98, 1.02, 20) * value for value in nominal(part)]
    rows = [[float(v) for v in row] for row in zip(*inputs, strict=True)]
    strains = np.array([part.strain(2e6, "surface", *row) for row in rows]).T
    assert np.array(part.strain(2e6, "surface", *inputs)) == pytest.approx(strains, rel=1e-12)


def test_another_place_is_refused(ball: Ball) -> None:
    with pytest.raises(NumberError, match="place = 'hoop': a sphere has only surface"):
        ball().strain(1e6, "hoop", *nominal(ball()))
