"""Quantities as fields of pydantic models."""

from __future__ import annotations

import json
import re
from typing import Annotated, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field, ValidationError

from rigproof.models import DocumentModel
from rigproof.quantities import (
    KINDS,
    Quantity,
    Spread,
    Uncertain,
    Within,
    absolute_spread,
    parse,
    quantity,
    spread,
    uncertain,
    within,
)


class Everything(DocumentModel):
    wall_thickness: Annotated[Uncertain, uncertain("length", above="0 mm")]
    hold: Annotated[Quantity, quantity("time", at_least="1 s", at_most="1 h")] = parse("10 min", "time")
    settle: Annotated[Quantity, quantity("time")] = Field(default="60 s", validate_default=True)
    load: Annotated[Quantity | None, quantity("gauge pressure", "force")] = None
    of_reading: Annotated[Spread | None, spread("ratio")] = None
    fixed: Annotated[Spread, absolute_spread("temperature")] | None = None
    limit: Annotated[Within | None, within("strain")] = None


def places(written: dict[str, Any]) -> dict[tuple[int | str, ...], str]:
    with pytest.raises(ValidationError) as caught:
        Everything.model_validate({"wall thickness": "4 mm", **written})
    return {error["loc"]: error["msg"] for error in caught.value.errors()}


def test_reads_every_form() -> None:
    written = {
        "wall thickness": {"value": "4.52 mm", "U": "0.06 mm", "k": "2"}, "hold": "5 min", "load": "3 kN",
        "of reading": "0.05 %", "fixed": "0.1 K", "limit": "within 1 %",
    }  # fmt: skip
    found = Everything.model_validate(written)
    assert found.wall_thickness.u == pytest.approx(3e-5)
    assert found.hold.value == 300.0
    assert found.settle == parse("60 s", "time")
    assert found.load == Quantity(3000.0, "force", "3 kN")
    assert found.limit is not None
    assert found.limit.relative
    assert json.loads(found.model_dump_json())["wall_thickness"] == "{value: 4.52 mm, U: 0.06 mm, k: 2}"


def test_takes_what_is_already_read() -> None:
    wall = Everything.model_validate({"wall thickness": "4 mm"}).wall_thickness
    assert Everything.model_validate({"wall thickness": wall}).wall_thickness is wall
    assert ("wall thickness",) in places({"wall thickness": parse("4 mm", "length")})


def test_a_wrong_form_is_placed_at_its_keys() -> None:
    found = places({"wall thickness": {"value": "4 bar", "u": "1 %", "k": "-1"}})
    assert set(found) == {("wall thickness", key) for key in ("value", "U", "u", "k")}


@pytest.mark.parametrize(
    ("key", "text", "said"),
    [
        ("hold", "0.5 s", "it must be at least 1 s"),
        ("hold", "2 h", "it must be at most 1 h"),
        ("wall thickness", "0 mm", "it must be above 0 mm"),
        ("load", "3 mm", "is no gauge pressure or force"),
        ("load", "-3 bar", "no gauge pressure is below"),
        ("fixed", "1 %", "is a share"),
        ("limit", "1 %", "does not say 'within'"),
    ],
)
def test_bounds_and_kinds(key: str, text: str, said: str) -> None:
    assert said in places({key: text})[key,]


def test_a_wrong_kind_is_a_defect_of_the_model() -> None:
    with pytest.raises(ValueError, match="did you mean 'length'"):
        uncertain("lenght")


def test_schema_names_keys_with_spaces_and_has_patterns() -> None:
    schema = Everything.model_json_schema()
    assert set(schema["properties"]) == {
        "wall thickness", "hold", "settle", "load", "of reading", "fixed", "limit",
    }  # fmt: skip
    text, certificate, statistics = schema["properties"]["wall thickness"]["anyOf"]
    assert re.search(text["pattern"], "219.1 mm ± 0.5 %")
    assert not re.search(text["pattern"], "219.1 bar")
    assert certificate["required"] == ["value", "U", "k"]
    assert statistics["required"] == ["value", "s", "n"]
    assert len(schema["properties"]["load"]["anyOf"]) == 2


@given(st.sampled_from([(kind, unit) for kind in KINDS.values() for unit in (*kind.units, *kind.also)]))
def test_the_schema_takes_what_the_reader_takes(pair: tuple[Any, str]) -> None:
    kind, spelling = pair

    class One(DocumentModel):
        value: Annotated[Quantity, quantity(kind.name)]

    text = f"300 {spelling}".strip()
    assert One(value=text).value.text == text
    assert re.search(One.model_json_schema()["properties"]["value"]["pattern"], text)
