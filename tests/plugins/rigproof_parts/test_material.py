from __future__ import annotations

import re
from importlib.resources import files

import pytest
from pydantic import ValidationError

from rigproof.documents import read_document
from rigproof_parts.material import Material
from rigproof_parts.materials import Materials, known_materials

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


def test_no_value_of_a_material_nobody_knows_is_assumed() -> None:
    unknown = STEEL | {"name": "boiler plate 17"}
    assert Material.model_validate(unknown).elastic_modulus.value == 206e9
    for key in STEEL:
        with pytest.raises(ValidationError, match="Field required") as refused:
            Material.model_validate({k: v for k, v in unknown.items() if k != key})
        places = [error["loc"] for error in refused.value.errors()]
        assert places == ([("name",)] if key == "name" else [("name",), (key,)])


def test_a_name_is_enough() -> None:
    found = Material.model_validate("carbon steel")
    assert found == Material.model_validate({"name": "carbon steel"})
    assert found.name == "carbon steel"
    assert [item.value for item in found.inputs()] == pytest.approx([203.5e9, 0.305, 11.85e-6])
    assert [item.u * 3**0.5 for item in found.inputs()] == pytest.approx([4.07e9, 0.02, 0.25e-6])
    assert found.yield_strength.value == 235e6
    assert [item.name for item in found.elastic()] == ["elastic modulus", "poisson ratio"]


def test_a_value_written_replaces_the_one_of_the_data() -> None:
    found = Material.model_validate({"name": "A36", "yield strength": "250 MPa", "poisson ratio": "0.29 ± 0.01"})
    assert found.name == "A36"
    assert (found.yield_strength.text, found.poisson_ratio.text) == ("250 MPa", "0.29 ± 0.01")
    assert found.elastic_modulus.text == "203.5 GPa ± 2 %"
    with pytest.raises(ValidationError, match="A36x") as refused:
        Material.model_validate({"name": "A36", "expansion": "A36x"})
    assert [error["loc"] for error in refused.value.errors()] == [("expansion",)]


@pytest.mark.parametrize(
    ("written", "place"), [("carbon stell", ()), ({"name": "carbon stell", "yield strength": "250 MPa"}, ("name",))]
)
def test_an_unknown_name_leads_to_the_nearest(written: object, place: tuple[str, ...]) -> None:
    message = re.escape("'carbon stell' is no material of the data; did you mean 'carbon steel', or write all its")
    with pytest.raises(ValidationError, match=message) as refused:
        Material.model_validate(written)
    assert refused.value.errors()[0]["loc"] == place
    assert len(refused.value.errors()) == (4 if place else 1)  # with the three values that are missing


@pytest.mark.parametrize("written", [[], 304, None, {"name": ["carbon steel"]}, {"name": 304}])
def test_what_is_neither_name_nor_mapping_is_refused(written: object) -> None:
    with pytest.raises(ValidationError) as refused:
        Material.model_validate(written)
    assert refused.value.errors()[0]["input"] == (written["name"] if isinstance(written, dict) else written)


def test_the_schema_knows_both_forms() -> None:
    name, mapping = Material.model_json_schema()["anyOf"]
    assert name["type"] == "string"
    assert {"carbon steel", "304", "Ti-6Al-4V"} <= set(name["enum"])
    assert mapping["required"] == ["name"]
    assert set(mapping["properties"]) == set(STEEL)
    assert mapping["additionalProperties"] is False


@pytest.mark.parametrize("name", list(known_materials()))
def test_every_material_of_the_data_can_be_used(name: str) -> None:
    found = Material.model_validate(name)
    assert 50e9 < found.elastic_modulus.value < 250e9
    assert 0.25 < found.poisson_ratio.value < 0.36
    assert 5e-6 < found.expansion.value < 25e-6
    assert 150e6 < found.yield_strength.value < 1000e6


def test_every_figure_of_the_data_names_its_source() -> None:
    for entry in known_materials().values():
        for figure in (entry.elastic_modulus, entry.poisson_ratio, entry.expansion, entry.yield_strength):
            assert figure.sources
            assert all(len(source.document) > 8 for source in figure.sources)


def test_the_data_lie_in_the_package_and_no_name_stands_twice() -> None:
    text = files("rigproof_parts").joinpath("materials.yaml").read_text(encoding="utf-8")
    found = read_document(Materials, text=text).materials
    names = [word for name, entry in found.items() for word in (name, *entry.also)]
    assert len(names) == len(set(names)) == len(known_materials())
