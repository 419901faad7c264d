"""Instruments and the sources of load."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, Literal, get_args

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ValidationInfo,
    field_validator,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from rigproof.documents.chosen import ByWord
from rigproof.documents.context import Context, name_in
from rigproof.documents.named import Named
from rigproof.documents.relief import ReliefDevice
from rigproof.documents.validation import checked, consequence
from rigproof.instruments import Driver, Excites, Loads, Reads, Settings, Shunts
from rigproof.models import DocumentModel
from rigproof.quantities import Quantity, WrittenError, kind_of, parse, quantity


def _iso_date(written: object) -> object:
    # pydantic alone also takes a count of seconds, and 20270331 would be a day in 1970.
    if isinstance(written, str) and not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", written):
        raise WrittenError(f"{written!r} is no date", "write year-month-day, such as 2027-03-31")
    return written


class WrittenIdentity(DocumentModel):
    """What an instrument must answer when it is asked who it is; None: anything."""

    maker: str | None = None
    """The maker's name as the instrument answers it."""
    model: str | None = None
    """The model as the instrument answers it."""
    serial_number: str | None = None
    """The serial number as the instrument answers it; another instrument voids the run."""


class Calibration(DocumentModel):
    """The certificate an instrument's accuracy rests on."""

    certificate: str
    """Number of the certificate that the stated accuracy rests on."""
    due: Annotated[date | None, BeforeValidator(_iso_date)] = None
    """Last day of its validity, year-month-day; a run after it is at best undecided."""


MOST_BLIND_S = 60.0  # our own bound: the rig may be under load, and no interlock is watched meanwhile


class Retries(DocumentModel):
    """How often a failed reading is tried again on a fresh connection. Never a command."""

    times: Annotated[int, Field(ge=1, le=10)]
    """How often one reading is tried again."""
    wait: Annotated[Quantity, quantity("time", at_least="0 s", at_most="30 s")] = parse("0.5 s", "time")
    """Wait before each try."""
    in_a_run: Annotated[int, Field(ge=1, le=1000)] = 10
    """How many tries this instrument has in a whole run."""


class Instrument(Named):
    """An instrument, where it is and how it is driven."""

    driver: Annotated[type[Driver], ByWord()]
    """Which driver talks to it; `rigproof plugins` lists them."""
    resource: Annotated[str, Field(min_length=1)]
    """Its address, in the form its driver opens, such as a VISA resource name."""
    timeout: Annotated[Quantity, quantity("time", above="0 s")] = parse("5 s", "time")
    """How long to wait for an answer."""
    identity: WrittenIdentity | None = None
    """Who must answer; where it is left out nobody checks."""
    calibration: Calibration | None = None
    """The certificate its accuracy rests on."""
    retries: Retries | None = None
    """How often a failed reading is tried again; left out, never."""
    settings: Settings = Settings()
    """Settings of its driver."""

    @field_validator("retries")
    @classmethod
    def _can_be_tried_again(cls, retries: Retries | None, info: ValidationInfo) -> Retries | None:
        driver: type[Driver] | None = info.data.get("driver")
        if retries is None or driver is None or "timeout" not in info.data:
            return retries
        if not issubclass(driver, Reads):
            what = f"driver {driver.kind!r} gives no readings, and commands are never sent again"
            raise WrittenError(what, "leave `retries` out")
        if driver.asks_a_person:
            raise WrittenError("a person looks again without being told to", "leave `retries` out")
        if issubclass(driver, Excites | Shunts) and driver.resume is Driver.resume:
            what = f"its driver {driver.kind!r} cannot connect again without touching excitation and relays"
            raise WrittenError(what, "leave `retries` out, or give the driver a `resume` of its own")
        blind_s = retries.times * (info.data["timeout"].value + retries.wait.value)
        if blind_s > MOST_BLIND_S:
            raise WrittenError(
                f"all tries of one reading may take {blind_s:g} s, and no interlock is watched meanwhile",
                f"stay within {MOST_BLIND_S:g} s: times × (timeout + wait)",
            )
        return retries

    @field_validator("resource")
    @classmethod
    def _can_be_opened(cls, resource: str, info: ValidationInfo) -> str:
        if "driver" in info.data:
            info.data["driver"].check_resource(resource)
        return resource

    @field_validator("settings", mode="plain")
    @classmethod
    def _by_driver(cls, written: Any, info: ValidationInfo) -> Settings:
        """The settings are the driver's own; where none are written its defaults hold, if it has them for all."""
        if "driver" not in info.data:
            raise consequence()
        model: type[Settings] = info.data["driver"].settings_model
        if isinstance(written, model):
            return written
        left_out = isinstance(written, Settings)
        needs = [field.alias or name for name, field in model.model_fields.items() if field.is_required()]
        if left_out and needs:
            keys = ", ".join(f"{key}: …" for key in needs)
            what = f"the driver {info.data['driver'].kind!r} cannot do without settings"
            raise WrittenError(what, f"write `settings: {{{keys}}}` here")
        settings = checked(model, {} if left_out else written, info.context)
        if "resource" in info.data:
            info.data["driver"].check_settings(info.data["resource"], settings)
        return settings


@dataclass(frozen=True)
class OfChannel:
    """Pydantic metadata: a quantity of the kind that the entry's `channel` measures, or of its rate or difference."""

    of: Literal["value", "rate", "difference"] = "value"
    above_zero: bool = False

    def read(self, written: Any, info: ValidationInfo) -> Quantity:
        """The quantity; one made in code is taken as it is."""
        if isinstance(written, Quantity):
            return written
        context = Context.of(info)
        measured = context.measured(info.data.get("channel")) if context else None
        if not measured:
            raise consequence()
        about = kind_of(measured)
        kind = {"value": measured, "rate": about.rate, "difference": about.difference}[self.of]
        if not kind:
            raise WrittenError(f"no rate of {measured} is watched", "take a channel of load, strain or temperature")
        found = parse(written, kind)
        if self.above_zero and found.value <= 0:
            raise WrittenError(f"{found.text!r} is not above 0", "write how much it is, without a sign")
        return found

    def __get_pydantic_core_schema__(self, source: Any, _handler: GetCoreSchemaHandler) -> CoreSchema:
        schema = core_schema.with_info_plain_validator_function(self.read)
        return core_schema.nullable_schema(schema) if type(None) in get_args(source) else schema

    def __get_pydantic_json_schema__(self, _schema: CoreSchema, _handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        return {"type": ["string", "number"], "description": f"a {self.of} of what the channel measures, with its unit"}


def _watchable(channel: str, info: ValidationInfo) -> str:
    context = Context.of(info)
    driver = context.driver(context.word("channels", channel, "instrument")) if context else None
    if driver is not None and issubclass(driver, Reads) and not driver.watchable:
        raise WrittenError(
            f"{channel!r} is read by a person ({driver.kind}), and what stands here is read every second",
            "name a channel that an instrument reads by itself",
        )
    return channel


# A channel that is read all the while the part is under load.
WatchedChannel = Annotated[str, name_in("channels", "channel"), AfterValidator(_watchable)]


class Source(Named):
    """What applies load, and the channel that measures the load on the part."""

    instrument: Annotated[str, name_in("instruments", "instrument")]
    """The instrument that applies the load."""
    channel: WatchedChannel
    """Channel that measures the load on the part itself."""
    rate: Annotated[Quantity, OfChannel(of="rate", above_zero=True)]
    """Fastest change of load."""
    limit: Annotated[Quantity, OfChannel(above_zero=True)]
    """Load that is never gone beyond; it is watched as an interlock is."""
    safe_below: Annotated[Quantity, OfChannel(above_zero=True)]
    """Load up to which the part counts as without load."""
    relief_device: ReliefDevice | None = None
    """What opens by itself where the pressure of this source goes too far; no interlock stands in for it."""

    @field_validator("instrument")
    @classmethod
    def _can_load(cls, instrument: str, info: ValidationInfo) -> str:
        context = Context.of(info)
        driver = context.driver(instrument) if context else None
        if driver is not None and not issubclass(driver, Loads):
            raise WrittenError(f"{instrument!r} ({driver.kind}) puts no load on a part", "name an instrument that does")
        return instrument

    @field_validator("channel")
    @classmethod
    def _measures_the_load(cls, channel: str, info: ValidationInfo) -> str:
        context = Context.of(info)
        part = context.part if context else None
        measured = context.measured(channel) if context else None
        if part is not None and measured is not None and measured != part.load:
            raise WrittenError(
                f"{channel!r} measures {measured}, and a {part.kind} is loaded by {part.load}",
                f"name a channel on the part that measures {part.load}",
            )
        return channel

    @field_validator("safe_below")
    @classmethod
    def _below_limit(cls, safe_below: Quantity, info: ValidationInfo) -> Quantity:
        limit = info.data.get("limit")
        if limit is not None and safe_below.value >= limit.value:
            raise WrittenError(
                f"{safe_below.text!r} is not below the limit of {limit.text}", "what is safe lies near 0"
            )
        return safe_below

    @field_validator("relief_device")
    @classmethod
    def _relieves_a_pressure(cls, relief: ReliefDevice | None, info: ValidationInfo) -> ReliefDevice | None:
        context, channel, limit = Context.of(info), info.data.get("channel"), info.data.get("limit")
        measured = context.measured(channel) if context and channel else limit and limit.kind
        if relief is not None and measured and measured != relief.set_pressure.kind:
            raise WrittenError(
                f"a relief device opens at a gauge pressure, and this source loads by {measured}",
                "leave it out; fit a stop or a valve that limits the load by itself, and say so in the test papers",
            )
        return relief
