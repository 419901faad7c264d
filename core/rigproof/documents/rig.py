"""The rig as written in rig.yaml and as used by everything after it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import Field, ValidationInfo, field_validator, model_validator

from rigproof.documents.accuracy import Accuracy
from rigproof.documents.bench import Calibration, Instrument, Interlock, Source, WrittenIdentity
from rigproof.documents.channels import Channel, Gauge
from rigproof.documents.chosen import ByModel
from rigproof.documents.named import BY_NAME
from rigproof.documents.validation import all_wrong
from rigproof.instruments import Loads, Reads
from rigproof.models import DocumentModel, PartModel
from rigproof.quantities import WrittenError

__all__ = [
    "Accuracy",
    "Calibration",
    "Channel",
    "Gauge",
    "Instrument",
    "Interlock",
    "Rig",
    "RigDocument",
    "Source",
    "WrittenIdentity",
]


class RigDocument(DocumentModel):
    """The content of rig.yaml."""

    rigproof: Literal["rig/1"]
    name: Annotated[str, Field(min_length=1, max_length=200)]
    part: Annotated[PartModel, ByModel("parts")]
    gauges: Annotated[dict[str, Gauge], BY_NAME] = Field(default={}, validate_default=True)
    channels: Annotated[dict[str, Channel], BY_NAME, Field(min_length=1)]
    instruments: Annotated[dict[str, Instrument], BY_NAME, Field(min_length=1)]
    sources: Annotated[dict[str, Source], BY_NAME] = Field(default={}, validate_default=True)
    interlocks: Annotated[dict[str, Interlock], BY_NAME] = Field(default={}, validate_default=True)

    @field_validator("gauges")
    @classmethod
    def _suit_the_part(cls, gauges: dict[str, Gauge], info: ValidationInfo) -> dict[str, Gauge]:
        part: PartModel | None = info.data.get("part")
        for name, gauge in gauges.items():
            if part is not None and (what := part.unsuited(gauge)):
                raise WrittenError(f"{name}: {what}", "make the two agree")
        return gauges

    @model_validator(mode="after")
    def _instruments_serve(self) -> Self:
        """What an instrument's settings say it reads and loads is what channels and sources ask of it."""
        faults: list[tuple[tuple[str, ...], str, str]] = []
        for name, channel in self.channels.items():
            about = self.instruments[channel.instrument]
            if issubclass(about.driver, Reads):
                why = about.driver.unreadable(about.settings, channel.reads, channel.input)
                faults += [(("channels", name), f"{about.name!r} {why}", "make the two agree")] if why else []
        for name, source in self.sources.items():
            about = self.instruments[source.instrument]
            if issubclass(about.driver, Loads):
                why = about.driver.unloadable(about.settings, self.part.load)
                faults += [(("sources", name), f"{about.name!r} {why}", "make the two agree")] if why else []
        if faults:
            raise all_wrong(faults)
        return self


@dataclass(frozen=True)
class Rig:
    """What stands on the bench. Every cross reference in it holds."""

    name: str
    part: PartModel
    gauges: Mapping[str, Gauge]
    channels: Mapping[str, Channel]
    instruments: Mapping[str, Instrument]
    sources: Mapping[str, Source]
    interlocks: Mapping[str, Interlock]
    file: str  # as named by the user, for messages
    text: str  # the document, exactly as written
    sha256: str  # of its bytes
