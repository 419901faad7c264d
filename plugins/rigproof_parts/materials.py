"""The materials this package knows by name: materials.yaml, with the source of every figure beside it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Annotated, Literal

from pydantic import Field

from rigproof.models import DocumentModel

DATA = "materials.yaml"


class Source(DocumentModel):
    """Who says so: the figure as it stands in the document, and whether it was read there or recalled."""

    figure: str
    document: str
    known: Literal["seen", "memory"]


class Sourced(DocumentModel):
    """A value as it may be written in rig.yaml, and the figures its limits hold."""

    value: str
    sources: Annotated[tuple[Source, ...], Field(min_length=1)]


class Entry(DocumentModel):
    """One material of the data."""

    also: tuple[str, ...] = ()
    elastic_modulus: Sourced
    poisson_ratio: Sourced
    expansion: Sourced
    yield_strength: Sourced

    def written(self) -> dict[str, str]:
        """Its values by their keys in rig.yaml."""
        figures: Mapping[str, Sourced] = {key: value for key, value in self if isinstance(value, Sourced)}
        return {key.replace("_", " "): figure.value for key, figure in figures.items()}


class Materials(DocumentModel):
    """The content of materials.yaml."""

    rigproof: Literal["materials/1"]
    materials: dict[str, Entry]


@cache
def known_materials() -> Mapping[str, Entry]:
    """Every material by every name it goes by."""
    from rigproof.documents import read_document

    text = files("rigproof_parts").joinpath(DATA).read_text(encoding="utf-8")
    found = read_document(Materials, text=text, name=DATA).materials
    return {word: entry for name, entry in found.items() for word in (name, *entry.also)}
