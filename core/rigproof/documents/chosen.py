"""Parts of a document whose model a plugin brings: the word in the document chooses it."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_args

from pydantic import BaseModel, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from rigproof.documents.context import Context
from rigproof.documents.validation import checked, missing, wrong, wrong_key
from rigproof.quantities import WrittenError, did_you_mean

PLACEHOLDER = "x-rigproof-kinds"  # `schema` puts the installed kinds here


@dataclass(frozen=True)
class _Chosen(ABC):
    """Pydantic metadata with a place in the JSON Schema that is filled once the plugins are known."""

    section: Literal["parts", "reductions", "rosettes", "drivers", "steps"]

    @abstractmethod
    def read(self, written: Any, info: ValidationInfo) -> Any:
        """What is written, read by the model it chooses."""

    def __get_pydantic_core_schema__(self, source: Any, _handler: GetCoreSchemaHandler) -> CoreSchema:
        schema = core_schema.with_info_plain_validator_function(self.read)
        return core_schema.nullable_schema(schema) if type(None) in get_args(source) else schema

    def __get_pydantic_json_schema__(self, _schema: CoreSchema, _handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        return {PLACEHOLDER: self.section}


@dataclass(frozen=True)
class ByModel(_Chosen):
    """A mapping such as `{model: cylinder, …}`: the word under `model` chooses who reads the rest."""

    def read(self, written: Any, info: ValidationInfo) -> Any:
        """The model's instance; one made in code is taken as it is."""
        if isinstance(written, BaseModel):
            return written
        if not isinstance(written, Mapping):
            raise WrittenError(
                "keys, with `model` among them, are wanted here", f"write {{model: …}} with one of {self._known(info)}"
            )
        if "model" not in written:
            raise missing("model", written)
        kinds, word = _kinds(self.section, info), written["model"]
        model = kinds.get(word) if isinstance(word, str) else None
        if model is None:
            raise wrong(("model",), f"{word!r} is no {self._one}", did_you_mean(str(word), kinds), word)
        rest = {key: value for key, value in written.items() if key != "model"}
        return checked(model, rest, info.context, extra=("model",))

    def _known(self, info: ValidationInfo) -> str:
        return ", ".join(_kinds(self.section, info))

    @property
    def _one(self) -> str:
        return {"parts": "part model", "reductions": "reduction model", "rosettes": "layout of a rosette"}[self.section]


@dataclass(frozen=True)
class ByWord(_Chosen):
    """A text that names a driver."""

    section: Literal["drivers"] = "drivers"

    def read(self, written: Any, info: ValidationInfo) -> Any:
        """The driver's class; one given in code is taken as it is."""
        if isinstance(written, type):
            return written
        kinds = _kinds(self.section, info)
        if not isinstance(written, str) or written not in kinds:
            raise WrittenError(f"{written!r} is no driver", did_you_mean(str(written), kinds))
        return kinds[written]


@dataclass(frozen=True)
class ByKey(_Chosen):
    """A mapping of one key, such as `shunt: {…}`, or the key alone: the key chooses who reads what stands under it."""

    section: Literal["steps"] = "steps"

    def read(self, written: Any, info: ValidationInfo) -> Any:
        """The step's instance; one made in code is taken as it is."""
        if isinstance(written, BaseModel):
            return written
        kinds = _kinds(self.section, info)
        entry = {written: None} if isinstance(written, str) else written
        if not isinstance(entry, Mapping) or not entry:
            raise WrittenError("a step is a key with its parameters", f"write `kind: {{…}}` with {', '.join(kinds)}")
        word, *more = entry
        if more:
            raise wrong_key(
                (more[0],), f"one step has two keys, {word!r} and {more[0]!r}", "begin the next with `- `", entry
            )
        if word not in kinds:
            raise wrong_key((word,), f"{word!r} is no kind of step", did_you_mean(word, kinds), entry)
        return checked(kinds[word], {} if entry[word] is None else entry[word], info.context, prefix=(word,))


def _kinds(section: str, info: ValidationInfo) -> Mapping[str, Any]:
    context = Context.of(info)
    if context is None:
        raise WrittenError("a document is read with a registry of plugins", "use rigproof.documents.load_rig")
    kinds: Mapping[str, Any] = getattr(context.registry, section)
    return kinds
