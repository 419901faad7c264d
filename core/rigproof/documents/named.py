"""Entries of a section such as `channels:`, which carry their key as a name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import BeforeValidator, ValidationInfo, field_validator
from pydantic_core import PydanticCustomError

from rigproof.documents.validation import UNKNOWN_KEY, NotWritten, keys_at
from rigproof.models import DocumentModel


class _Key(str):
    """A name that is the key of the entry, and not a `name:` somebody wrote into it."""

    __slots__ = ()


class Named(DocumentModel):
    """An entry with a name; in a document the name is its key."""

    name: Annotated[str, NotWritten()] = ""

    @field_validator("name", mode="before")
    @classmethod
    def _only_as_key(cls, name: object, info: ValidationInfo) -> object:
        if info.context is not None and not isinstance(name, _Key):
            raise PydanticCustomError(UNKNOWN_KEY, "unknown key", {"known": keys_at(cls, ())})
        return str(name)


def _with_names(section: Any) -> Any:
    if not isinstance(section, Mapping):
        return section
    return {
        key: {"name": _Key(key), **entry} if isinstance(entry, Mapping) else entry for key, entry in section.items()
    }


# For a field such as `channels: Annotated[dict[str, Channel], BY_NAME]`.
BY_NAME = BeforeValidator(_with_names)
