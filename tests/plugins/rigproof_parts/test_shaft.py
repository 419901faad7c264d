"""Torsion, against summed rings and the turned strain tensor."""

from __future__ import annotations

from math import cos, radians, sin, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from rigproof.errors import NumberError
from rigproof.uncertainty import Budget
from rigproof_parts.shaft import Shaft

STEEL = {
    "name": "spring steel",
    "elastic modulus": "206 GPa ± 1 %",
    "poisson ratio": "0.29 ± 0.01",
    "expansion": "11.7 ppm/K",
    "yield strength": "900 MPa",
}
SHAFT: dict[str, Any] = {"diameter": "50 mm ± 0.02 mm", "material": STEEL}


def shaft(**changes: str) -> Shaft:
    return Shaft.model_validate(SHAFT | changes)


def nominal(part: Shaft) -> list[float]:
    return [item.value for item in part.inputs()]


def skin_shear(torque: float, diameter: float, bore: float) -> float:
    """Stress of the skin that balances the torque, stress growing with the radius over 20 000 rings."""
    edges = np.linspace(bore / 2, diameter / 2, 20001)
    middle = (edges[1:] + edges[:-1]) / 2
    per_skin = float(np.sum(2 * np.pi * middle * np.diff(edges) * middle * middle / (diameter / 2)))
    return torque / per_skin


@pytest.mark.parametrize("bore", ["0 mm", "35 mm"])
@pytest.mark.parametrize("torque", [800.0, -300.0])
def test_strain_is_the_turned_shear_of_the_skin(bore: str, torque: float) -> None:
    """e(phi) = gamma sin(phi) cos(phi), phi from the axis towards the direction in which the skin is sheared."""
    part = shaft(bore=bore)
    diameter, inside, modulus, nu = nominal(part)
    gamma = skin_shear(torque, diameter, inside) * 2 * (1 + nu) / modulus
    for place, angle in (("+45°", 45.0), ("-45°", -45.0)):
        along, across = part.strain(torque, place, diameter, inside, modulus, nu)
        assert along == pytest.approx(gamma * sin(radians(angle)) * cos(radians(angle)), rel=1e-6)
        assert across == pytest.approx(-float(along), rel=1e-12)


def test_a_right_handed_torque_stretches_the_right_handed_screw() -> None:
    part = shaft()
    assert part.places == ("+45°", "-45°")
    assert part.strain(100.0, "+45°", *nominal(part))[0] > 0 > part.strain(100.0, "-45°", *nominal(part))[0]


@pytest.mark.parametrize("bore", ["0 mm", "35 mm"])
def test_yield_starts_at_the_skin(bore: str) -> None:
    part = shaft(bore=bore)
    diameter, inside, _, _ = nominal(part)
    assert skin_shear(part.yield_load(), diameter, inside) * sqrt(3) == pytest.approx(900e6, rel=1e-6)


@given(torque=st.floats(-1e4, 1e4), factor=st.floats(-3, 3))
def test_strain_is_proportional_to_torque(torque: float, factor: float) -> None:
    part = shaft(bore="20 mm")
    once = np.array(part.strain(torque, "+45°", *nominal(part)))
    assert np.array(part.strain(factor * torque, "+45°", *nominal(part))) == pytest.approx(factor * once, rel=1e-12)


@given(scale=st.floats(0.1, 10))
def test_a_model_of_the_shaft_strains_alike(scale: float) -> None:
    """All lengths times s and the torque times s³."""
    part = shaft(bore="20 mm")
    diameter, bore, modulus, nu = nominal(part)
    large = part.strain(200 * scale**3, "+45°", scale * diameter, scale * bore, modulus, nu)
    assert large == pytest.approx(part.strain(200.0, "+45°", diameter, bore, modulus, nu), rel=1e-12)


@given(modulus=st.floats(1e9, 1e12), nu=st.floats(0.1, 0.4))
def test_only_the_shear_modulus_counts(modulus: float, nu: float) -> None:
    part = shaft()
    shear = modulus / (2 * (1 + nu))
    assert part.strain(200.0, "+45°", 0.05, 0.0, modulus, nu) == pytest.approx(
        part.strain(200.0, "+45°", 0.05, 0.0, 2 * shear * 1.3, 0.3), rel=1e-12
    )


def test_arrays_give_what_numbers_give() -> None:
    part, rng = shaft(bore="20 mm"), np.random.default_rng(5)
    inputs = [rng.uniform(0.98, 1.02, 20) * value for value in nominal(part)]
    rows = [[float(v) for v in row] for row in zip(*inputs, strict=True)]
    strains = np.array([part.strain(2e3, "-45°", *row) for row in rows]).T
    assert np.array(part.strain(2e3, "-45°", *inputs)) == pytest.approx(strains, rel=1e-12)


def test_the_modulus_rules_the_budget() -> None:
    part = shaft()
    estimate = Budget(lambda *values: part.strain(500.0, "+45°", *values)[0], part.inputs()).evaluate()
    assert [line.input for line in estimate.lines] == ["diameter", "bore", "elastic modulus", "poisson ratio"]
    assert max(estimate.lines, key=lambda line: line.share).input == "elastic modulus"


def test_the_twist_is_a_fact() -> None:
    """Twist of a metre by hand: T L/(G J)."""
    part = shaft()
    *_, twist = part.facts(500.0)
    shear, polar = 206e9 / 2.58, np.pi / 32 * 0.05**4
    assert (twist.name, twist.kind) == ("twist of one metre", "angle")
    assert twist.value == pytest.approx(500.0 / (shear * polar), rel=1e-12)


def test_cautions_are_of_turning_parts() -> None:
    part = shaft()
    text = " ".join(part.cautions(0.5 * part.yield_load()))
    for words in (" is 50 % of ", "guard it", "hair and clothes", "no protective device", "Local law"):
        assert words in text
    assert "Loads fall" not in text
    assert part.load_per_kelvin(1.0, *nominal(part)) == 0


@pytest.mark.parametrize(
    ("changes", "place", "message"),
    [
        ({"bore": "50 mm"}, "bore", "is not below the diameter of '50 mm ± 0.02 mm'"),
        ({"bore": "-1 mm"}, "bore", "reaches below 0"),
        ({"diameter": "50"}, "diameter", "has no unit"),
        ({"diameter": "50 N", "bore": "99 mm"}, "diameter", "N"),
    ],
)
def test_a_shaft_that_cannot_be_is_refused(changes: dict[str, str], place: str, message: str) -> None:
    with pytest.raises(ValidationError, match=message) as refused:
        shaft(**changes)
    assert [error["loc"] for error in refused.value.errors()] == [(place,)]


def test_another_place_is_refused() -> None:
    part = shaft()
    with pytest.raises(NumberError, match=r"place = '45°': a shaft has \+45° and -45°; write one of them"):
        part.strain(1.0, "45°", *nominal(part))
