"""Shafts of textbooks. Provenance of each figure is in the data files."""

from __future__ import annotations

from collections.abc import Callable
from math import degrees, pi, radians
from typing import Any

import pytest

from rigproof_parts.shaft import Shaft

Case = Callable[[str], Any]

NU = 0.3
MATERIAL = {
    "name": "of the example",
    "elastic modulus": "200 GPa",
    "poisson ratio": "0.3",
    "expansion": "11.7 ppm/K",
    "yield strength": "235 MPa",
}
PART = Shaft.model_validate({"diameter": "50 mm", "material": MATERIAL})


def shear_strain(torque: float, diameter: float, bore: float, shear_modulus: float) -> float:
    """Of the skin: the difference of the strains at +45° and -45°."""
    numbers = (diameter, bore, 2 * shear_modulus * (1 + NU), NU)
    right, left = (float(PART.strain(torque, place, *numbers)[0]) for place in PART.places)
    return right - left


def stress(torque: float, diameter: float, bore: float = 0.0) -> float:
    return shear_strain(torque, diameter, bore, 1.0)


def twist(torque: float, diameter: float, bore: float, shear_modulus: float, length: float) -> float:
    return shear_strain(torque, diameter, bore, shear_modulus) * length / (diameter / 2)


def test_torque_of_a_bar_under_tension_Megson_1_7(mechanics_case: Case) -> None:
    """The 45° gauge shows e (1 - nu)/2 of the tension beside the torque: -200 = 350 - 550 µε."""
    case = mechanics_case("T-ROS-03")
    given = case.inputs
    diameter, modulus, nu = given["d"] * 1e-3, given["E"] * 1e6, given["nu"]
    of_torque = (given["e_45deg"] - given["e_0deg"] * (1 - nu) / 2) * 1e-6
    per_newton_metre, _ = PART.strain(1.0, "-45°", diameter, 0.0, modulus, nu)
    torque = of_torque / per_newton_metre
    case.check(T=torque / 1e3, tau=stress(torque, diameter) / 1e6)


def size_for(torque: float, allowed: float, bore_share: float = 0.0) -> float:
    """Outside diameter at which the skin has the allowed stress: it goes with 1/d³."""
    return float((stress(torque, 1.0, bore_share) / allowed) ** (1 / 3))


def size_at(twist_rad: float, torque: float, bore_share: float, shear_modulus: float) -> float:
    """Outside diameter that twists so much over a metre: it goes with 1/d⁴."""
    return float((twist(torque, 1.0, bore_share, shear_modulus, 1.0) / twist_rad) ** 0.25)


def test_torque_of_a_stress_and_of_an_angle_Beer_Johnston_3_1_and_3_2(mechanics_case: Case) -> None:
    stressed, turned = mechanics_case("E-BEE-3.1"), mechanics_case("E-BEE-3.2")
    outside, bore, allowed = stressed.inputs.values()
    stressed.check(torque_kn_m=allowed / stress(1.0, outside, bore) / 1e3)
    outside, bore, length, shear_modulus, angle = turned.inputs.values()
    turned.check(torque_kn_m=radians(angle) / twist(1.0, outside, bore, shear_modulus, length) / 1e3)


def test_hollow_shaft_with_solid_ends_Beer_Johnston_sample_3_1(mechanics_case: Case) -> None:
    case = mechanics_case("E-BEE-S3.1")
    outside, bore, torque, at_ends, allowed = case.inputs.values()
    highest = stress(torque, outside, bore)
    case.check(highest_mpa=highest / 1e6, least_mpa=highest * bore / outside / 1e6)
    case.check(diameter_mm=size_for(at_ends, allowed) * 1e3)


def test_solid_bar_Gere_3_1(mechanics_case: Case) -> None:
    case = mechanics_case("E-GER-3-1")
    diameter, length, shear_modulus, torque, allowed, angle = case.inputs.values()
    turned = twist(torque, diameter, 0.0, shear_modulus, length)
    case.check(stress_psi=stress(torque, diameter), twist_rad=turned, twist_deg=degrees(turned))
    case.check(torque_lb_ft=allowed / stress(1.0, diameter) / 12)
    case.check(torque_of_angle_lb_ft=radians(angle) / (turned / torque) / 12)


def test_solid_and_hollow_shaft_Gere_3_2(mechanics_case: Case) -> None:
    case = mechanics_case("E-GER-3-2")
    torque, allowed, angle, shear_modulus, share = case.inputs.values()
    case.check(
        solid_by_stress_mm=size_for(torque, allowed) * 1e3,
        hollow_by_stress_mm=size_for(torque, allowed, share) * 1e3,
        solid_by_angle_mm=size_at(radians(angle), torque, 0.0, shear_modulus) * 1e3,
        hollow_by_angle_mm=size_at(radians(angle), torque, share, shear_modulus) * 1e3,
    )


@pytest.mark.parametrize(("diameter", "bore"), [(0.05, 0.0), (0.08, 0.06)])
def test_the_trade_formulas(diameter: float, bore: float) -> None:
    """trade.md 3: e(45°) = 8 T/(pi d³ G) solid, 16 T D (1 + nu)/(pi E (D⁴ - d⁴)) hollow."""
    modulus, torque = 206e9, 900.0
    found, across = PART.strain(torque, "+45°", diameter, bore, modulus, NU)
    hollow = 16 * torque * diameter * (1 + NU) / (pi * modulus * (diameter**4 - bore**4))
    assert (found, across) == pytest.approx((hollow, -hollow), rel=1e-12)
    if bore == 0:
        assert found == pytest.approx(8 * torque / (pi * diameter**3 * modulus / (2 * (1 + NU))), rel=1e-12)
