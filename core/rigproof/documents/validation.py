"""Validating what a document holds, with the words known at each place kept for the message.

Parts of a document are validated by models that plugins bring. Each is validated by `checked`, so that its errors
join those of the whole document, with their paths, and none hides another.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping, Sequence
from typing import Any, Literal, TypeGuard, TypeVar

from pydantic import BaseModel, GetJsonSchemaHandler, ValidationError
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, ErrorDetails, InitErrorDetails, PydanticCustomError, PydanticOmit

from rigproof.errors import PluginFault, RigproofError
from rigproof.plugins import what_broke
from rigproof.quantities.fields import WrittenField

M = TypeVar("M", bound=BaseModel)
Path = tuple[str | int, ...]

UNKNOWN_KEY = "unknown_key"
WRONG_KEY = "wrong_key"
CONSEQUENCE = "consequence"


class NotWritten:
    """Metadata of a field that is set in code and stands in no document."""

    def __get_pydantic_json_schema__(self, _schema: CoreSchema, _handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        raise PydanticOmit


def checked(model: type[M], written: object, context: object, prefix: Path = (), extra: Sequence[str] = ()) -> M:
    """Validate a part of a document; its errors get the path `prefix`.

    `extra`: keys that are read elsewhere, for the list of known words. A plugin's model that breaks in another way
    than by a ValueError raises a PluginFault.
    """
    try:
        return model.model_validate(written, context=context)
    except ValidationError as error:
        lines = [_line(details, model, prefix, extra) for details in error.errors(include_url=False)]
        raise ValidationError.from_exception_data(model.__name__, lines) from None
    except RigproofError:
        raise
    except Exception as error:
        raise PluginFault(
            f"{model.__module__}.{model.__name__} broke while it read a document: {what_broke(error)}"
        ) from error


def wrong(path: Path, message: str, remedy: str, written: object) -> ValidationError:
    """An error at the value of a path below the place being validated."""
    return _single("wrong_value", path, written, {"said": message, "remedy": remedy})


def wrong_values(said: Mapping[Path, str], remedy: str) -> ValidationError:
    """Errors of one kind at several places, each with its own message."""
    lines = [_custom("wrong_value", path, None, {"said": text, "remedy": remedy}) for path, text in said.items()]
    return ValidationError.from_exception_data("document", lines)


def wrong_key(path: Path, message: str, remedy: str, written: object) -> ValidationError:
    """An error at the key of a path below the place being validated."""
    return _single(WRONG_KEY, path, written, {"said": message, "remedy": remedy})


def missing(key: str, written: object) -> ValidationError:
    """A key that should be there."""
    return _single("missing", (key,), written, {"said": "missing"})


def consequence() -> PydanticCustomError:
    """What cannot be looked at because something else is wrong; never shown beside its cause."""
    return PydanticCustomError(CONSEQUENCE, "cannot be read before the other faults are mended")


def _single(kind: str, path: Path, written: object, context: dict[str, Any]) -> ValidationError:
    return ValidationError.from_exception_data("document", [_custom(kind, path, written, context)])


def _custom(kind: str, path: Path, written: object, context: dict[str, Any]) -> InitErrorDetails:
    return {"type": PydanticCustomError(kind, "{said}", context), "loc": path, "input": written}


def _line(error: ErrorDetails, model: type[BaseModel], prefix: Path, extra: Sequence[str]) -> InitErrorDetails:
    kind, context = error["type"], dict(error.get("ctx", {}))
    if kind == "extra_forbidden":
        kind = UNKNOWN_KEY
        above = error["loc"][:-1]
        context["known"] = [*(extra if not above else ()), *keys_at(model, above)]
    if kind == "missing":
        context["words"] = context.get("words") or _words(model, error["loc"])
        context["sample"] = context.get("sample") or _sample(model, error["loc"])
    context.setdefault("said", error["msg"])
    custom = PydanticCustomError(kind, "{said}", context)
    return {"type": custom, "loc": (*prefix, *error["loc"]), "input": error["input"]}


def _words(model: type[BaseModel], path: Sequence[str | int]) -> list[str]:
    """The words that a key may have; empty where it takes anything else."""
    here: list[Any] = [model]
    for part in path:
        here = [inner for outer in here for inner in _inside(outer, part)] or here
    return [str(word) for found in here if typing.get_origin(found) is Literal for word in typing.get_args(found)]


def _sample(model: type[BaseModel], path: Sequence[str | int]) -> str:
    """An example of the quantity that a key takes; "" where it takes none."""
    here: list[Any] = [model]
    for part in path[:-1]:
        here = [inner for outer in here for inner in _inside(outer, part)] or here
    fields = [one for found in here if _is_model(found) for one in found.model_fields.items()]
    notes = [note for name, about in fields if path[-1] in {name, about.alias} for note in about.metadata]
    return next((note.sample for note in notes if isinstance(note, WrittenField)), "")


def keys_at(model: type[BaseModel], path: Sequence[str | int]) -> list[str]:
    """The keys a document may have at a path below a model."""
    here: list[Any] = [model]
    for part in path:
        here = [inner for outer in here for inner in _inside(outer, part)] or here
    return [key for found in here for key in _keys(found)]


def _keys(model: Any) -> list[str]:
    if not _is_model(model):
        return []
    return [
        field.alias or name
        for name, field in model.model_fields.items()
        if not any(isinstance(note, NotWritten) for note in field.metadata)
    ]


def _is_model(annotation: Any) -> TypeGuard[type[BaseModel]]:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)


def _inside(annotation: Any, part: str | int) -> list[Any]:
    """The types that stand under a key or an index of a value of some type."""
    if _is_model(annotation):
        fields = annotation.model_fields.items()
        return [t for name, field in fields if part in {name, field.alias} for t in _branches(field.annotation)]
    return [t for argument in typing.get_args(annotation) for t in _branches(argument)]  # of a list or a mapping


def _branches(annotation: Any) -> list[Any]:
    """A type without `Annotated`, a union as its members."""
    origin = typing.get_origin(annotation)
    if origin is typing.Annotated:
        return _branches(typing.get_args(annotation)[0])
    if origin in {typing.Union, types.UnionType}:
        return [t for member in typing.get_args(annotation) for t in _branches(member)]
    return [annotation]
