from __future__ import annotations

import math
from dataclasses import fields

import numpy as np
import pytest

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget, Estimate, Input
from rigproof_strain import stress
from rigproof_strain.rosette import DELTA, PAIR, RECTANGULAR, Rosette
from rigproof_strain.rosette_budget import PrincipalEstimates, principal_budget

E = Input.limits("elastic modulus", 206e9, 4e9, unit="Pa")
NU = Input.limits("poisson ratio", 0.29, 0.01)
KT = Input.limits("transverse sensitivity", 0.006, 0.002)
OFF = [Input.limits(f"leg {n} off", 0.0, math.radians(1.0), unit="rad") for n in (1, 2, 3)]
TURNED = Input.limits("turned", 0.0, math.radians(2.0), unit="rad")


def legs(*strains: float, u: float = 2e-6, dof: float = math.inf) -> list[Input]:
    return [Input(f"leg {n}", strain, u, dof) for n, strain in enumerate(strains, 1)]


def full_budget(rosette: Rosette = RECTANGULAR) -> PrincipalEstimates:
    readings = legs(800e-6, 520e-6, -450e-6)
    return principal_budget(rosette, readings, E, NU, kt=KT, off=OFF, turned=TURNED)


@pytest.mark.parametrize("rosette", [RECTANGULAR, DELTA, Rosette((0.0, 120.0, 240.0))])
def test_values_are_those_of_the_plain_functions(rosette: Rosette) -> None:
    state = rosette.state((800e-6, 520e-6, -450e-6), (0.006,) * 3)
    found = full_budget(rosette)
    e1, e2 = (float(e) for e in state.principal())
    s1, s2 = stress.plane_stress_pa(e1, e2, 206e9, 0.29)
    assert (found.e1.value, found.e2.value) == pytest.approx((e1, e2), rel=1e-12)
    assert found.shear.value == pytest.approx(e1 - e2, rel=1e-12)
    assert (found.s1.value, found.s2.value) == pytest.approx((s1, s2), rel=1e-12)
    assert found.von_mises.value == pytest.approx(stress.von_mises_pa(s1, s2), rel=1e-12)
    assert found.angle is not None
    assert found.angle.value == pytest.approx(float(state.angle()), rel=1e-12)


def test_each_uncertainty_is_that_of_the_plain_function_in_a_budget() -> None:
    inputs = [*legs(800e-6, 520e-6, -450e-6), KT, *OFF]
    plain = {
        "e1": lambda *v: RECTANGULAR.state(v[:3], (v[3],) * 3, v[4:7]).principal()[0],
        "e2": lambda *v: RECTANGULAR.state(v[:3], (v[3],) * 3, v[4:7]).principal()[1],
        "angle": lambda *v: RECTANGULAR.state(v[:3], (v[3],) * 3, v[4:7]).angle() + v[7],
        "von_mises": lambda *v: stress.von_mises_pa(
            *stress.plane_stress_pa(*RECTANGULAR.state(v[:3], (v[3],) * 3, v[4:7]).principal(), v[7], v[8])
        ),
    }
    more: dict[str, list[Input]] = {"angle": [TURNED], "von_mises": [E, NU]}
    found = full_budget()
    for name, function in plain.items():
        expected = Budget(function, [*inputs, *more.get(name, [])]).evaluate()
        estimate = getattr(found, name)
        assert estimate.u == pytest.approx(expected.u, rel=1e-6), name
        for mine, its in zip(estimate.lines, expected.lines, strict=True):
            assert mine.input == its.input
            assert mine.contribution == pytest.approx(its.contribution, rel=1e-4, abs=1e-6 * estimate.u)
            slope = its.sensitivity  # with its sign
            assert mine.sensitivity == pytest.approx(slope, rel=1e-4, abs=1e-6 * estimate.u / (its.u or 1.0))


def test_uncertainties_are_those_of_many_draws() -> None:
    """All inputs drawn, each sample reduced by the plain functions: standard deviations within their own scatter."""
    rng, n = np.random.default_rng(8), 40_000
    readings = [rng.normal(value, 2e-6, n) for value in (800e-6, 520e-6, -450e-6)]
    kt = rng.uniform(0.004, 0.008, n)
    off = [rng.uniform(-1, 1, n) * math.radians(1.0) for _ in range(3)]
    state = RECTANGULAR.state(readings, (kt,) * 3, off)
    e1, e2 = state.principal()
    s1, s2 = stress.plane_stress_pa(e1, e2, rng.uniform(202e9, 210e9, n), rng.uniform(0.28, 0.30, n))
    drawn = {"e1": e1, "e2": e2, "shear": e1 - e2, "s1": s1, "s2": s2, "von_mises": stress.von_mises_pa(s1, s2)}
    drawn["angle"] = state.angle() + rng.uniform(-1, 1, n) * math.radians(2.0)
    found = full_budget()
    assert set(drawn) == {field.name for field in fields(found)}
    for name, sample in drawn.items():
        assert getattr(found, name).u == pytest.approx(np.std(sample), rel=0.02), name


def test_uncertainty_does_not_go_by_how_the_rosette_lies() -> None:
    """Equal, independent readings of a delta rosette: u² (e1) = u²/3 + (2/3) u², whatever the direction (derived)."""
    for degrees in (0.0, 17.0, 45.0, 88.0):
        angles = [math.radians(a - degrees) for a in (0.0, 60.0, 120.0)]
        strains = [3e-4 + 5e-4 * math.cos(2 * angle) for angle in angles]
        found = principal_budget(DELTA, legs(*strains), E, NU)
        assert found.e1.u == pytest.approx(2e-6, rel=1e-4)
        assert found.e2.u == pytest.approx(2e-6, rel=1e-4)
        assert found.shear.u == pytest.approx(2 * 2e-6 * math.sqrt(2 / 3), rel=1e-4)
        assert found.angle is not None
        assert math.degrees(found.angle.value) == pytest.approx(degrees, abs=1e-9)
        assert found.angle.u == pytest.approx(2e-6 * math.sqrt(2 / 3) / (2 * 5e-4), rel=1e-3)


def test_equal_strains_have_an_uncertainty_too_and_no_direction() -> None:
    """A sphere: every leg reads alike, the circle is a point. The root has no slope there; the result still has u."""
    found = principal_budget(RECTANGULAR, legs(3e-4, 3e-4, 3e-4), E, NU)
    assert found.angle is None
    assert found.e1.value == found.e2.value == pytest.approx(3e-4)
    assert found.e1.u == pytest.approx(2e-6, rel=0.3)  # that of a leg; which direction rounding picked is open
    assert found.shear.u > 0
    assert found.von_mises.value == pytest.approx(206e9 / (1 - 0.29) * 3e-4, rel=1e-9)


def test_a_direction_is_given_from_two_u_on() -> None:
    """u of the radius of the rectangular rosette at 0°: sqrt(u² + u²)/2."""
    u = 2e-6 / math.sqrt(2)
    for radii, seen in ((1.9, False), (2.1, True)):
        found = principal_budget(RECTANGULAR, legs(3e-4 + radii * u, 3e-4, 3e-4 - radii * u), E, NU)
        assert (found.angle is not None) is seen


def test_an_unloaded_part_has_an_uncertain_stress() -> None:
    found = principal_budget(RECTANGULAR, legs(0.0, 0.0, 0.0), E, NU)
    assert found.von_mises.value == 0.0
    assert found.von_mises.u > 206e9 * 1e-6


def test_a_turned_rosette_turns_the_angle_alone() -> None:
    turned = Input("turned", 0.1, 0.02)
    plain, moved = (principal_budget(RECTANGULAR, legs(8e-4, 5e-4, -4e-4), E, NU, turned=t) for t in (None, turned))
    assert plain.angle is not None
    assert moved.angle is not None
    last = plain.angle.lines[-1]
    assert (last.input, last.unit, last.u) == ("turned", "rad", 0.0)
    assert moved.angle.value == pytest.approx(plain.angle.value + 0.1, rel=1e-12)
    assert moved.angle.u == pytest.approx(math.hypot(plain.angle.u, 0.02), rel=1e-9)
    assert moved.e1 == plain.e1


def test_near_the_end_of_its_range_the_angle_is_smooth() -> None:
    """At 90° the arc tangent jumps by 180°; looked at from the direction found it does not."""
    found = principal_budget(RECTANGULAR, legs(-4e-4, 2e-4, 8e-4), E, NU)
    assert found.angle is not None
    assert abs(math.degrees(found.angle.value)) == pytest.approx(90.0)
    assert found.angle.u < 0.01


def test_a_common_deviation_of_the_legs_is_one_deviation() -> None:
    """Readings wrong by one and the same 1 %: every strain is wrong by 1 %, the angle not at all."""
    readings = [Input(f"leg {n}", e, abs(e) * 0.01) for n, e in ((1, 8e-4), (2, 5e-4), (3, 2e-4))]
    together = [("leg 1", "leg 2", 1.0), ("leg 1", "leg 3", 1.0), ("leg 2", "leg 3", 1.0)]
    found = principal_budget(RECTANGULAR, readings, E, NU, correlations=[*together, ("elastic modulus", "leg 1", 0.0)])
    assert found.e1.u == pytest.approx(0.01 * found.e1.value, rel=1e-6)
    assert found.angle is not None
    assert found.angle.u == pytest.approx(0.0, abs=1e-7)


def test_one_sensitivity_a_leg_or_one_for_all() -> None:
    same = [Input(f"kt {n}", 0.006, KT.u) for n in (1, 2, 3)]
    one, each = (principal_budget(RECTANGULAR, legs(8e-4, 5e-4, -4e-4), E, NU, kt=kt) for kt in (KT, same))
    assert each.e1.value == pytest.approx(one.e1.value, rel=1e-12)
    assert each.e1.u != one.e1.u
    assert [line.input for line in one.e1.lines] == ["leg 1", "leg 2", "leg 3", "transverse sensitivity"]
    assert [line.input for line in each.s1.lines][-3:] == ["kt 3", "elastic modulus", "poisson ratio"]


def test_a_pair_in_a_budget() -> None:
    found = principal_budget(PAIR, legs(2e-4, 9e-4), E, NU)
    assert (found.e1.value, found.e2.value) == pytest.approx((9e-4, 2e-4))
    assert (found.e1.u, found.e2.u) == pytest.approx((2e-6, 2e-6), rel=1e-6)
    assert found.angle is not None
    assert math.degrees(found.angle.value) == pytest.approx(90.0)
    assert found.angle.u == 0.0  # that a pair lies along the principal directions is taken as known


def test_degrees_of_freedom_come_through() -> None:
    found = principal_budget(RECTANGULAR, legs(8e-4, 5e-4, -4e-4, dof=9.0), E, NU)
    assert 9 < found.e1.dof < 27
    assert isinstance(found.e1, Estimate)


@pytest.mark.parametrize(
    ("readings", "kt", "off"),
    [(2, 0, 0), (3, 2, 0), (3, 0, 2), (4, 0, 0)],
)
def test_counts_that_do_not_fit_are_refused(readings: int, kt: int, off: int) -> None:
    with pytest.raises(NumberError, match=f"readings={readings}, kt={kt}, off={off}: .* takes a reading a leg; give"):
        principal_budget(
            RECTANGULAR, legs(*[1e-4] * readings), E, NU, kt=[KT.named(f"k{n}") for n in range(kt)], off=OFF[:off]
        )


def test_bad_materials_and_sensitivities_are_refused() -> None:
    with pytest.raises(NumberError, match=r"poisson=0\.6"):
        principal_budget(RECTANGULAR, legs(1e-4, 0.0, 0.0), E, Input.exact("poisson ratio", 0.6))
    with pytest.raises(NumberError, match="modulus_pa=-2"):
        principal_budget(RECTANGULAR, legs(1e-4, 0.0, 0.0), Input.exact("elastic modulus", -2.0), NU)
    with pytest.raises(NumberError, match=r"kt=0\.3"):
        principal_budget(RECTANGULAR, legs(1e-4, 0.0, 0.0), E, NU, kt=Input.exact("kt", 0.3))
    with pytest.raises(NumberError, match="value=nan: must be a finite number"):
        legs(math.nan)
