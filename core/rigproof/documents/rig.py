"""The rig as written in rig.yaml and as used by everything after it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from rigproof.documents.accuracy import Accuracy
from rigproof.documents.bench import Calibration, Instrument, Source, WrittenIdentity
from rigproof.documents.channels import Channel, Gauge
from rigproof.documents.chosen import ByModel
from rigproof.documents.correction import Correction
from rigproof.documents.interlocks import AnyInterlock, Interlock
from rigproof.documents.named import BY_NAME
from rigproof.documents.rosettes import Rosette
from rigproof.documents.tree import path_of
from rigproof.documents.validation import wrong
from rigproof.instruments import Loads, Reads
from rigproof.models import BridgeModel, DocumentModel, OneLine, PartModel
from rigproof.quantities import WrittenError
from rigproof.serial_ports import Port

__all__ = [
    "Accuracy",
    "Calibration",
    "Channel",
    "Correction",
    "Gauge",
    "Instrument",
    "Interlock",
    "Rig",
    "RigDocument",
    "Rosette",
    "Source",
    "WrittenIdentity",
]


class RigDocument(DocumentModel):
    """The content of rig.yaml."""

    rigproof: Literal["rig/1"]
    """Format and version of the document."""
    name: Annotated[str, Field(min_length=1, max_length=200)]
    """What the rig is called in plans and verdicts."""
    site: OneLine | None = None
    """Where it stands, such as a works and a bay; it stands on the verdict and the report."""
    part: Annotated[PartModel, ByModel("parts")]
    """The part under load, and the model that predicts its strain."""
    gauges: Annotated[dict[str, Gauge], BY_NAME] = Field(default={}, validate_default=True)
    """The gauges bonded to it, by name."""
    channels: Annotated[dict[str, Channel], BY_NAME, Field(min_length=1)]
    """What is measured, by name."""
    rosettes: Annotated[dict[str, Rosette], BY_NAME] = Field(default={}, validate_default=True)
    """Channels whose gauges lie at one point and tell the state of strain there together, by name."""
    instruments: Annotated[dict[str, Instrument], BY_NAME, Field(min_length=1)]
    """The instruments, by name."""
    sources: Annotated[dict[str, Source], BY_NAME] = Field(default={}, validate_default=True)
    """What applies load, by name."""
    interlocks: Annotated[dict[str, AnyInterlock], BY_NAME] = Field(default={}, validate_default=True)
    """Limits watched during the whole run, by name."""

    @field_validator("gauges")
    @classmethod
    def _suit_the_part(cls, gauges: dict[str, Gauge], info: ValidationInfo) -> dict[str, Gauge]:
        part: PartModel | None = info.data.get("part")
        for name, gauge in gauges.items():
            if part is not None and (what := part.unsuited(gauge)):
                raise WrittenError(f"{name}: {what}", "make the two agree")
        return gauges

    @field_validator("instruments")
    @classmethod
    def _at_ports_of_their_own(cls, instruments: dict[str, Instrument]) -> dict[str, Instrument]:
        """At one serial port instruments speak the same, and let the line run alike."""
        taken: dict[str, tuple[str, Port]] = {}
        for name, instrument in instruments.items():
            port = instrument.driver.serial_port(instrument.resource)
            if port is None:
                continue
            first, known = taken.setdefault(port.name, (name, port))
            if port == known:
                continue
            what = f"{port.name} is the port of {first!r} already, which speaks {known.speaks}"
            remedy = "give each instrument a port of its own"
            if port.speaks == known.speaks:
                what = f"{port.name} runs at {known.runs} for {first!r}, and at {port.runs} here"
                remedy = "write the same baud rate, parity and stop bits for all instruments on one line"
            raise wrong((name, "resource"), what, remedy, instrument.resource)
        return instruments

    @field_validator("instruments")
    @classmethod
    def _certified(cls, instruments: dict[str, Instrument], info: ValidationInfo) -> dict[str, Instrument]:
        for channel in info.data.get("channels", {}).values():
            instrument = instruments.get(channel.instrument)
            if channel.correction != Correction() and instrument is not None and instrument.calibration is None:
                raise WrittenError(
                    f"channel {channel.name!r} has a correction, and {instrument.name!r} no certificate it is from",
                    f"add `calibration:` with the certificate to {instrument.name!r}",
                )
        return instruments

    @model_validator(mode="after")
    def _instruments_can(self) -> RigDocument:
        """Settings of an instrument have what channels and sources ask of it, and bridges suit the part."""
        for name, channel in self.channels.items():
            read_by = self.instruments[channel.instrument]
            reader: type = read_by.driver
            if issubclass(reader, Reads) and (
                what := reader.unreadable(read_by.settings, channel.input, channel.reads)
            ):
                raise wrong(("channels", name, "input"), f"{channel.instrument}: {what}", "make the two agree", name)
            model, gauge = channel.reduction, self.gauges.get(channel.gauge or "")
            if isinstance(model, BridgeModel) and gauge and (what := model.unsuited(self.part, gauge.at)):
                raise wrong(("channels", name, "reduction"), what, "make arrangement, place and part agree", name)
        for name, source in self.sources.items():
            loaded_by = self.instruments[source.instrument]
            loader: type = loaded_by.driver
            if issubclass(loader, Loads) and (what := loader.unloadable(loaded_by.settings, self.part.load)):
                raise wrong(
                    ("sources", name, "instrument"), f"{source.instrument}: {what}", "correct its settings", name
                )
        return self

    @model_validator(mode="after")
    def _rosettes_fit(self) -> RigDocument:
        for name, rosette in self.rosettes.items():
            if found := rosette.unfit(self):
                key, what, remedy = found
                raise wrong(("rosettes", name, *path_of(key)), what, remedy, name)
        return self

    @model_validator(mode="after")
    def _interlocks_fit(self) -> RigDocument:
        for name, lock in self.interlocks.items():
            if found := lock.unfit(self):
                key, what, remedy = found
                raise wrong(("interlocks", name, key), what, remedy, name)
        return self


def completed(channels: Mapping[str, Channel], instruments: Mapping[str, Instrument]) -> dict[str, Channel]:
    """The channels, with what their drivers' settings state of the accuracy where the channel itself says nothing."""
    found = dict(channels)
    for name, channel in channels.items():
        instrument = instruments[channel.instrument]
        if issubclass(instrument.driver, Reads):
            stated = instrument.driver.stated_accuracy(instrument.settings, channel.input)
            if stated is not None:
                written = {key: value for key, value in channel.accuracy if value is not None}
                found[name] = channel.model_copy(update={"accuracy": stated.model_copy(update=written)})
    return found


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
    rosettes: Mapping[str, Rosette] = field(default_factory=dict)
    site: str = ""
