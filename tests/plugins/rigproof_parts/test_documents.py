"""Part models as they stand in a rig.yaml: the faults of a document name place and remedy."""

from __future__ import annotations

from pathlib import Path

import pytest

from rigproof.documents import load_rig, schema
from rigproof.documents.faults import describe
from rigproof.errors import DocumentError
from rigproof.plugins import load_registry

SPOOL = Path(__file__).parents[3] / "tests" / "rigs" / "spool" / "rig.yaml"
TEXT = SPOOL.read_text(encoding="utf-8")
START, END = TEXT.index("  material:"), TEXT.index("gauges:")


def with_lines(lines: str) -> str:
    """The spool with other lines in place of its material."""
    return f"{TEXT[:START]}{lines}\n{TEXT[END:]}"


def said(lines: str) -> str:
    with pytest.raises(DocumentError) as refused:
        load_rig(text=with_lines(lines), name="rig.yaml")
    return describe(refused.value.faults)


def test_the_spool_writes_its_own_material() -> None:
    part = load_rig(SPOOL).part
    assert part.inputs()[2].value == 206e9


def test_a_material_by_name() -> None:
    part = load_rig(text=with_lines("  material: carbon steel")).part
    assert part.inputs()[2].value == 203.5e9


def test_a_misspelt_material() -> None:
    text = said("  material: carbon stell")
    assert "rig.yaml:11:13: part.material: 'carbon stell' is no material of the data" in text
    assert "did you mean 'carbon steel', or write all its values" in text


def test_every_fault_of_a_mapping_is_told() -> None:
    text = said("  material: {name: carbon stell, yield strength: 250 bananas}")
    assert "part.material.name: 'carbon stell' is no material of the data" in text
    assert "part.material.yield strength: '250 bananas'" in text
    assert "the keys 'elastic modulus', 'poisson ratio', 'expansion' are missing" in text


def test_thin_walls_on_a_thick_pipe() -> None:
    text = TEXT.replace("wall: {value: 4.52 mm, U: 0.06 mm, k: 2}", "wall: 20 mm").replace(
        "  ends: closed", "  ends: closed\n  theory: thin"
    )
    with pytest.raises(DocumentError) as refused:
        load_rig(text=text, name="rig.yaml")
    (fault,) = refused.value.faults
    assert (fault.where, fault.line) == ("part.theory", 9)
    assert "r/t = 4.467" in fault.message
    assert fault.remedy == "write `theory: thick`, or leave it out"


def test_the_schema_has_every_part_and_both_forms_of_a_material() -> None:
    found = schema("rig", load_registry())
    parts = found["$defs"]["RigDocument"]["properties"]["part"]["oneOf"] if "RigDocument" in found["$defs"] else None
    parts = parts or found["properties"]["part"]["oneOf"]
    kinds = {part["properties"]["model"]["const"] for part in parts}
    assert {"cylinder", "sphere", "cantilever", "column", "shaft", "force cell"} <= kinds
    name, mapping = found["$defs"]["Material"]["anyOf"]
    assert "carbon steel" in name["enum"]
    assert mapping["required"] == ["name"]
