"""What a part of a document must know of the rest: the other names in it, and the plugins' kinds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pydantic import AfterValidator, ValidationInfo

from rigproof.quantities import KINDS, WrittenError, did_you_mean

if TYPE_CHECKING:
    from rigproof.instruments import Driver
    from rigproof.models import PartModel, ReductionModel
    from rigproof.plugins import Registry


@dataclass(frozen=True)
class Context:
    """The document as written, before validation: a wrong entry elsewhere hides no fault here."""

    registry: Registry
    written: Mapping[str, Any]

    @staticmethod
    def of(info: ValidationInfo) -> Context | None:
        """The context of a validation; None where a model is built in code, without a document."""
        return info.context if isinstance(info.context, Context) else None

    def section(self, name: str) -> Mapping[str, Any]:
        """A part of the document that maps names to entries; empty where it is something else."""
        section = self.written.get(name)
        return section if isinstance(section, Mapping) else {}

    def word(self, section: str, name: object, key: str) -> str | None:
        """The text under a key of a named entry."""
        entry = self.section(section).get(name) if isinstance(name, str) else None
        word = entry.get(key) if isinstance(entry, Mapping) else None
        return word if isinstance(word, str) else None

    @property
    def part(self) -> type[PartModel] | None:
        """The part model the document names."""
        return self.registry.parts.get(str(self.section("part").get("model")))

    def measured(self, channel: object) -> str | None:
        """The kind of quantity a channel measures."""
        kind = self.word("channels", channel, "measures")
        return kind if kind in KINDS else None

    def driver(self, instrument: object) -> type[Driver] | None:
        """The driver of an instrument."""
        return self.registry.drivers.get(self.word("instruments", instrument, "driver") or "")

    def reduction(self, written: object) -> type[ReductionModel] | None:
        """The reduction model that a `reduction:` names."""
        word = written.get("model") if isinstance(written, Mapping) else None
        return self.registry.reductions.get(word) if isinstance(word, str) else None


def name_in(section: str, one: str) -> AfterValidator:
    """For a field that names an entry of a section of the document; `one` is what an entry is called."""

    def check(name: str, info: ValidationInfo) -> str:
        context = Context.of(info)
        if context is not None and name not in context.section(section):
            known = [str(key) for key in context.section(section)]
            raise WrittenError(f"{name!r} is no {one} of the rig", did_you_mean(name, known))
        return name

    return AfterValidator(check)
