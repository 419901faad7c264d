"""What a part's document says of a value's origin: written there, taken from the data, or a default."""

from __future__ import annotations

import pytest

from rigproof_parts.cylinder import Cylinder
from rigproof_parts.material import Material


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("carbon steel", {"elastic modulus": "materials.yaml", "expansion": "materials.yaml"}),
        (
            {"name": "carbon steel", "expansion": "12 ppm/K ± 1 ppm/K"},
            {"elastic modulus": "materials.yaml", "expansion": "rig.yaml"},
        ),
    ],
)
def test_a_material_knows_what_was_written(written: object, expected: dict[str, str]) -> None:
    material = Material.model_validate(written)
    for key, origin in expected.items():
        assert material.source_of("part.material", key) == f"{origin}: part.material.{key}"


def test_a_part_finds_its_keys_and_those_of_its_material() -> None:
    part = Cylinder.model_validate(
        {
            "outside diameter": "219.1 mm",
            "wall": "4.52 mm",
            "ends": "closed",
            "gauge surface": "outside",
            "filling": "water",
            "material": "carbon steel",
        }
    )
    assert part.source_of("part", "wall") == "rig.yaml: part.wall"
    assert part.source_of("part", "filling temperature") == "default: part.filling temperature"
    assert part.source_of("part", "poisson ratio") == "materials.yaml: part.material.poisson ratio"
    assert part.source_of("part", "thin-wall theory") == ""
