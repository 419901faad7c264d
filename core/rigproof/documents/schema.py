"""JSON Schema (draft 2020-12) of documents, plan, events and verdict, with the kinds of the installed plugins in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, TypeAdapter
from pydantic.json_schema import models_json_schema

from rigproof.documents.chosen import PLACEHOLDER
from rigproof.documents.nightly import NightlyDocument
from rigproof.documents.procedure import ProcedureDocument
from rigproof.documents.rig import RigDocument
from rigproof.errors import UsageError
from rigproof.quantities import did_you_mean

if TYPE_CHECKING:
    from rigproof.plugins import Registry

DIALECT = "https://json-schema.org/draft/2020-12/schema"

Schema = dict[str, Any]


def schema(kind: str, registry: Registry) -> Schema:
    """The JSON Schema of a document, a "plan", an "event" of a run or a "verdict"; UsageError for another word."""
    makers: Mapping[str, Callable[[], Schema]] = {
        "rig": lambda: _document("rig", RigDocument, registry),
        "procedure": lambda: _document("procedure", ProcedureDocument, registry),
        "nightly": lambda: _document("nightly", NightlyDocument, registry),
        "twin": lambda: _twin(registry),
        "plan": _plan,
        "event": _event,
        "verdict": _verdict,
    }
    if kind not in makers:
        raise UsageError(f"{kind!r} has no schema; {did_you_mean(kind, makers)}")
    return {"$schema": DIALECT} | makers[kind]()


def _twin(registry: Registry) -> Schema:
    """Of every installed simulator."""
    documents = [s.document for s in registry.simulators.values() if s.document is not None]
    where, whole = models_json_schema([(found, "validation") for found in documents])
    return {
        "title": "rigproof: twin/1",
        **_fill(whole, {}),
        "anyOf": [where[found, "validation"] for found in documents],
    }


def _plan() -> Schema:
    from rigproof.run.plan_record import PlanRecord

    return PlanRecord.model_json_schema(mode="serialization")


def _event() -> Schema:
    from rigproof.run.events import FORMAT, Event

    whole: Schema = TypeAdapter(Event).json_schema(mode="serialization")
    return {"title": FORMAT} | whole


def _verdict() -> Schema:
    from rigproof.verdict.record import Verdict

    return Verdict.model_json_schema(mode="serialization")


def _document(kind: str, model: type[BaseModel], registry: Registry) -> Schema:
    settings = {word: driver.settings_model for word, driver in registry.drivers.items()}
    groups: dict[str, Mapping[str, type[BaseModel]]] = {"steps": registry.steps}
    if kind == "rig":
        groups = {
            "parts": registry.parts,
            "reductions": registry.reductions,
            "rosettes": registry.rosettes,
            "drivers": settings,
        }
    needed = [model, *(found for group in groups.values() for found in group.values())]
    where, whole = models_json_schema([(found, "validation") for found in dict.fromkeys(needed)])
    defs: dict[str, Schema] = whole["$defs"]
    filled = {
        "parts": lambda: [_by_model(word, where[m, "validation"], defs) for word, m in groups["parts"].items()],
        "reductions": lambda: [
            _by_model(word, where[m, "validation"], defs) for word, m in groups["reductions"].items()
        ],
        "rosettes": lambda: [_by_model(word, where[m, "validation"], defs) for word, m in groups["rosettes"].items()],
        "drivers": lambda: [{"const": word} for word in groups["drivers"]],
        "steps": lambda: [
            s for word, m in groups["steps"].items() for s in _by_key(word, where[m, "validation"], defs)
        ],
    }
    result = _fill({"$defs": defs, **where[model, "validation"]}, filled)
    if kind == "rig":
        result["$defs"]["Instrument"]["allOf"] = [
            _settings_of(word, where[m, "validation"]) for word, m in groups["drivers"].items()
        ]
    return {"title": f"rigproof: {kind}/1", **_prune(result)}


def _fill(node: Any, filled: Mapping[str, Callable[[], list[Schema]]]) -> Any:
    """Put the installed kinds where a plugin's model stands."""
    if isinstance(node, list):
        return [_fill(item, filled) for item in node]
    if not isinstance(node, dict):
        return node
    copy = {}
    for key, value in node.items():
        if key == "properties":  # its keys are names, whatever they look like
            copy[key] = {name: _fill(inner, filled) for name, inner in value.items()}
        elif key not in {PLACEHOLDER, "default"}:
            copy[key] = _fill(value, filled)
    if isinstance(default := node.get("default"), dict):
        default = default.get("text")  # a quantity's default is the text it was written as
    if default is not None:
        copy["default"] = default
    return copy | {"oneOf": _fill(filled[node[PLACEHOLDER]](), filled)} if PLACEHOLDER in node else copy


def _prune(whole: Schema) -> Schema:
    """Leave out the definitions nothing refers to."""
    used: set[str] = set()
    waiting = [{key: value for key, value in whole.items() if key != "$defs"}]
    while waiting:
        for name in _references(waiting.pop()) - used:
            used.add(name)
            waiting.append(whole["$defs"][name])
    return whole | {"$defs": {name: found for name, found in whole["$defs"].items() if name in used}}


def _references(node: Any) -> set[str]:
    if isinstance(node, list):
        return {name for item in node for name in _references(item)}
    if not isinstance(node, dict):
        return set()
    here = {node["$ref"].rpartition("/")[2]} if isinstance(node.get("$ref"), str) else set()
    return here | {name for value in node.values() for name in _references(value)}


def _by_model(word: str, reference: Schema, defs: Mapping[str, Schema]) -> Schema:
    """A plugin's model with the key `model` that chooses it, written out: `additionalProperties` forbids adding it."""
    found = defs[reference["$ref"].rpartition("/")[2]]
    properties = {"model": {"const": word}} | found.get("properties", {})
    return found | {"properties": properties, "required": ["model", *found.get("required", [])]}


def _by_key(word: str, reference: Schema, defs: Mapping[str, Schema]) -> list[Schema]:
    """A step with its parameters, and the word alone where none is required."""
    entry = {"type": "object", "properties": {word: reference}, "required": [word], "additionalProperties": False}
    needs_none = not defs[reference["$ref"].rpartition("/")[2]].get("required")
    return [{"const": word}, entry] if needs_none else [entry]


def _settings_of(word: str, reference: Schema) -> Schema:
    return {"if": {"properties": {"driver": {"const": word}}}, "then": {"properties": {"settings": reference}}}
