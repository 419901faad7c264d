"""Descriptions of a document's keys for its JSON Schema: the docstring under each field, read when one is asked for.

Reading them when the classes are made would cost every command a fifth of its start (measured).
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Iterator

from pydantic import BaseModel, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema


class Described(BaseModel):
    """Base of models whose schema has the docstrings of their fields."""

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """The model's own schema, each property with its description."""
        found = handler(schema)
        properties = handler.resolve_ref_schema(found).get("properties", {})
        texts = {name: text for base in reversed(cls.__mro__) for name, text in _docstrings(base)}
        for name, field in cls.model_fields.items():
            key = field.alias or name
            if name in texts and key in properties:
                properties[key] = {**properties[key], "description": texts[name]}
        return found


def _docstrings(cls: type) -> Iterator[tuple[str, str]]:
    """Name and docstring of each field that a class itself declares; none where its source is not at hand."""
    if not issubclass(cls, Described):
        return
    try:
        body = ast.parse(textwrap.dedent(inspect.getsource(cls))).body[0]
    except (OSError, TypeError):
        return
    assert isinstance(body, ast.ClassDef), "the source of a class"
    for field, below in zip(body.body, body.body[1:], strict=False):
        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name) and isinstance(below, ast.Expr):
            text = below.value
            if isinstance(text, ast.Constant) and isinstance(text.value, str):
                yield field.target.id, inspect.cleandoc(text.value).replace("\n", " ")
