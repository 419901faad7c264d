"""JSON Schema of the documents, with the kinds of the plugins in it."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from pydantic import BaseModel

from rigproof.documents import schema
from rigproof.documents.interlocks import KINDS
from rigproof.documents.keys import key_list
from rigproof.documents.nightly import ExpectedCheck, NightlyDocument, NightlyTrial
from rigproof.documents.procedure import DecisionRule, ProcedureDocument
from rigproof.documents.rig import (
    Accuracy,
    Calibration,
    Channel,
    Gauge,
    Instrument,
    RigDocument,
    Source,
    WrittenIdentity,
)
from rigproof.documents.schema import DIALECT
from rigproof.errors import UsageError
from rigproof.plugins import Registry

TYPES = {"object", "array", "string", "number", "integer", "boolean", "null"}
KEYWORDS = {
    "$schema", "$defs", "$ref", "title", "description", "default", "examples", "type", "properties", "required",
    "additionalProperties", "items", "prefixItems", "anyOf", "oneOf", "allOf", "if", "then", "const", "enum", "pattern",
    "format", "minLength", "maxLength", "minItems", "maxItems", "minProperties", "minimum", "maximum",
    "exclusiveMinimum", "exclusiveMaximum",
}  # fmt: skip


def check(node: Any, defs: dict[str, Any]) -> None:
    """The parts of draft 2020-12 that are used here: known words, types, patterns, references that lead somewhere."""
    assert isinstance(node, dict)
    assert set(node) <= KEYWORDS, set(node) - KEYWORDS
    types = node.get("type", [])
    assert {types} <= TYPES if isinstance(types, str) else set(types) <= TYPES
    assert "$ref" not in node or node["$ref"].removeprefix("#/$defs/") in defs
    re.compile(node.get("pattern", ""))
    required = set(node.get("required", ()))
    assert required <= set(node.get("properties", required))
    for word in ("properties", "$defs"):
        for inner in node.get(word, {}).values():
            check(inner, defs)
    for word in ("anyOf", "oneOf", "allOf", "prefixItems"):
        for inner in node.get(word, []):
            check(inner, defs)
    for word in ("items", "if", "then", "additionalProperties"):
        if isinstance(node.get(word), dict):
            check(node[word], defs)


@pytest.mark.parametrize("kind", ["rig", "procedure", "nightly", "plan", "verdict"])
def test_is_a_schema_and_json(kinds: Registry, kind: str) -> None:
    found = schema(kind, kinds)
    assert found["$schema"] == DIALECT
    check(found, found["$defs"])
    assert json.loads(json.dumps(found)) == found
    assert "x-rigproof" not in json.dumps(found)


def test_keys_have_spaces(kinds: Registry) -> None:
    found = schema("rig", kinds)["$defs"]
    assert {"gauge factor", "transverse sensitivity", "compensated for"} <= set(found["Gauge"]["properties"])
    assert {"of reading", "zero drift"} <= set(found["Accuracy"]["properties"])
    assert "safe below" in found["Source"]["required"]
    assert "name" not in found["Gauge"]["properties"], "the name is the key of the entry"
    assert found["Instrument"]["properties"]["timeout"]["default"] == "5 s"


def test_has_the_kinds_of_the_plugins(kinds: Registry) -> None:
    found = schema("rig", kinds)["$defs"]
    (plate,) = found["RigDocument"]["properties"]["part"]["oneOf"]
    assert plate["properties"]["model"] == {"const": "plate"}
    assert plate["required"][0] == "model"
    assert {"const": "tester"} in found["Instrument"]["properties"]["driver"]["oneOf"]
    assert found["Instrument"]["allOf"][0]["then"]["properties"]["settings"]["$ref"].endswith("AmplifierSettings")
    steps = schema("procedure", kinds)["$defs"]["ProcedureDocument"]["properties"]["steps"]["items"]["oneOf"]
    assert {"const": "look"} in steps
    assert {"const": "press"} not in steps, "it cannot stand without its parameters"
    assert [step["required"] for step in steps if "required" in step] == [["look"], ["press"]]


def test_an_unknown_kind(kinds: Registry) -> None:
    with pytest.raises(UsageError, match="'rigg' has no schema; did you mean 'rig'"):
        schema("rigg", kinds)


WRITTEN: list[type[BaseModel]] = [Gauge, Channel, Accuracy, Instrument, WrittenIdentity, Calibration, Source, *KINDS]
NIGHTLY: list[type[BaseModel]] = [NightlyDocument, NightlyTrial, ExpectedCheck]
DOCUMENTS: list[type[BaseModel]] = [RigDocument, *WRITTEN, ProcedureDocument, DecisionRule, *NIGHTLY]


def test_every_key_says_what_it_means(registry: Registry) -> None:
    """Settings of drivers are told on the pages of their plugins."""
    models: tuple[type[BaseModel], ...] = (
        *DOCUMENTS,
        *registry.parts.values(),
        *registry.reductions.values(),
        *registry.steps.values(),
    )
    said = [text for model in models for text in _descriptions(model)]
    assert len(said) > 150
    assert [text for text in said if not text.endswith(".") or len(text.split()) < 2] == []


def _descriptions(model: type[BaseModel]) -> list[str]:
    properties = model.model_json_schema()["properties"]
    return [about.get("description", f"{model.__name__} {key}") for key, about in properties.items()]


def test_the_forms_of_a_quantity_say_what_their_keys_mean(registry: Registry) -> None:
    forms = schema("rig", registry)["$defs"]["Gauge"]["properties"]["resistance"]["anyOf"]
    keys = {key: about["description"] for form in forms for key, about in form.get("properties", {}).items()}
    assert "coverage factor" in keys["k"]
    assert "mean" in keys["n"]
    assert set(keys) == {"value", "U", "k", "s", "n"}


def test_the_key_list_has_every_key_of_a_document(registry: Registry) -> None:
    """And what chooses among several, the defaults as they are written, and nothing twice."""
    found = key_list(schema("rig", registry))
    lines = [line.strip() for line in found.splitlines()]
    for part in registry.parts:
        assert f"- model: {part}" in lines
    assert "arrangement*: Which arms hold gauges, and how these strain. [one of bending, along and" in lines
    assert "timeout: How long to wait for an answer. [such as 10 s; left out: 5 s]" in lines
    assert found.count("elastic modulus: Young's modulus, with its limits.") == 1
    assert "dof" not in found, "a default is the text it was written as"
    steps = key_list(schema("procedure", registry))
    assert all(f"- {step}*:" in steps for step in registry.steps)


def test_the_twin_has_the_schema_of_its_simulator(registry: Registry) -> None:
    twin = schema("twin", registry)
    check(twin, twin["$defs"])
    assert {"latency", "shunt resistor"} <= set(twin["$defs"]["Instrument"]["properties"])
    assert "noise: Standard deviation of one reading, in its unit or as a share of it." in key_list(twin)
