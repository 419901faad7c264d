from __future__ import annotations

import pytest
from pydantic import ValidationError

from rigproof_parts.material import Material

STEEL = {
    "name": "carbon steel",
    "elastic modulus": "206 GPa ± 2 %",
    "poisson ratio": "0.29 ± 0.01",
    "expansion": "11.7 ppm/K ± 0.3 ppm/K",
    "yield strength": "235 MPa",
}


def test_inputs_come_in_order_and_base_units() -> None:
    inputs = Material.model_validate(STEEL).inputs()
    assert [item.name for item in inputs] == ["elastic modulus", "poisson ratio", "expansion"]
    assert [item.value for item in inputs] == pytest.approx([206e9, 0.29, 11.7e-6])
    assert [item.u * 3**0.5 for item in inputs] == pytest.approx([4.12e9, 0.01, 0.3e-6])


@pytest.mark.parametrize(
    ("key", "text", "message"),
    [
        ("elastic modulus", "0 GPa", "reaches down to 0 or below; it must be above 0, limits included"),
        ("elastic modulus", "200 GPa ± 300 GPa", "reaches down to 0"),
        ("elastic modulus", "206", "206"),
        ("poisson ratio", "0.5", "'0.5' is out of bounds; it must lie between 0 and 0.5"),
        ("poisson ratio", "0.49 ± 0.02", "out of bounds"),
        ("poisson ratio", "0", "out of bounds"),
        ("yield strength", "0 MPa", "must be above 0 MPa"),
        ("expansion", "11.7 K", "11.7 K"),
    ],
)
def test_what_no_material_is_is_refused_at_its_place(key: str, text: str, message: str) -> None:
    with pytest.raises(ValidationError, match=message) as refused:
        Material.model_validate(STEEL | {key: text})
    assert [error["loc"] for error in refused.value.errors()] == [(key,)]


def test_no_value_is_assumed() -> None:
    for key in STEEL:
        with pytest.raises(ValidationError, match="Field required"):
            Material.model_validate({k: v for k, v in STEEL.items() if k != key})
