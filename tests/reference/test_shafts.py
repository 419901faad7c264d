"""Shafts of textbooks. All but the first from memory, recomputed here; every figure as printed."""

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


GERE_INCH = (1.5, 0.0, 11.5e6)  # 1.5 in solid bar, 54 in long, G 11.5e6 psi
RECALLED = [
    # Beer and Johnston, Mechanics of Materials, Concept Applications 3.1 and 3.2: 60 mm over 40 mm, 1.5 m, G 77 GPa;
    # the second carries J in four digits.
    ("Beer 3.1 torque kN m", 4.08, 0.005, lambda: 120e6 / stress(1.0, 0.06, 0.04) / 1e3),
    ("Beer 3.2 torque kN m", 1.829, 0.001, lambda: radians(2) / twist(1.0, 0.06, 0.04, 77e9, 1.5) / 1e3),
    # The same, Sample Problem 3.1: 120 mm over 90 mm under 20 kN m; solid ends under 6 kN m with 65 MPa allowed.
    ("Beer S3.1 highest MPa", 86.2, 0.05, lambda: stress(20e3, 0.12, 0.09) / 1e6),
    ("Beer S3.1 least MPa", 64.7, 0.05, lambda: stress(20e3, 0.12, 0.09) * 0.75 / 1e6),
    ("Beer S3.1 diameter mm", 77.8, 0.05, lambda: size_for(6e3, 65e6) * 1e3),
    # Gere, Mechanics of Materials, Example 3-1: 250 lb ft; then 6000 psi and 2.5° allowed.
    ("Gere 3-1 stress psi", 4530, 5, lambda: stress(3000, 1.5)),
    ("Gere 3-1 twist rad", 0.02834, 5e-6, lambda: twist(3000, *GERE_INCH, 54)),
    ("Gere 3-1 twist °", 1.62, 0.005, lambda: degrees(twist(3000, *GERE_INCH, 54))),
    ("Gere 3-1 torque lb ft", 331, 0.5, lambda: 6000 / stress(1.0, 1.5) / 12),
    ("Gere 3-1 torque of the angle lb ft", 385, 0.5, lambda: radians(2.5) / twist(1.0, *GERE_INCH, 54) / 12),
    # Gere, Example 3-2: 1200 N m, 40 MPa, 0.75 °/m, G 78 GPa; solid, and hollow with a wall of a tenth of d.
    ("Gere 3-2 solid by stress mm", 53.5, 0.05, lambda: size_for(1200, 40e6) * 1e3),
    ("Gere 3-2 hollow by stress mm", 63.7, 0.05, lambda: size_for(1200, 40e6, 0.8) * 1e3),
    ("Gere 3-2 solid by angle mm", 58.8, 0.05, lambda: by_angle(0.0)),
    ("Gere 3-2 hollow by angle mm", 67.1, 0.05, lambda: by_angle(0.8)),
]


def by_angle(bore_share: float) -> float:
    """Diameter (mm) that twists by 0.75° over a metre: the twist goes with 1/d⁴."""
    return float((twist(1200, 1.0, bore_share, 78e9, 1.0) / radians(0.75)) ** 0.25) * 1e3


@pytest.mark.parametrize(("what", "printed", "half_step", "computed"), RECALLED, ids=[row[0] for row in RECALLED])
def test_recalled_shafts(what: str, printed: float, half_step: float, computed: Callable[[], float]) -> None:
    assert computed() == pytest.approx(printed, abs=half_step)


@pytest.mark.parametrize(("diameter", "bore"), [(0.05, 0.0), (0.08, 0.06)])
def test_the_trade_formulas(diameter: float, bore: float) -> None:
    """trade.md 3: e(45°) = 8 T/(pi d³ G) solid, 16 T D (1 + nu)/(pi E (D⁴ - d⁴)) hollow."""
    modulus, torque = 206e9, 900.0
    found, across = PART.strain(torque, "+45°", diameter, bore, modulus, NU)
    hollow = 16 * torque * diameter * (1 + NU) / (pi * modulus * (diameter**4 - bore**4))
    assert (found, across) == pytest.approx((hollow, -hollow), rel=1e-12)
    if bore == 0:
        assert found == pytest.approx(8 * torque / (pi * diameter**3 * modulus / (2 * (1 + NU))), rel=1e-12)
