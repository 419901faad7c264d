"""Command maps: instruments described in rig.yaml alone, under `settings:`. COMMAND_MAP.md is the page for users.

Everything is data: texts with places to fill and forms to compare. Nothing of a map is ever run.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Self, get_args

from pydantic import (
    AfterValidator,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ValidationInfo,
    field_validator,
    model_validator,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from rigproof.documents.validation import wrong
from rigproof.instruments import Settings
from rigproof.quantities import KindName, Quantity, WrittenError, did_you_mean, kind_of, parse, quantity

from . import patterns
from .patterns import Wording
from .settings import VisaSettings

WHO = ("maker", "model", "serial number", "firmware")
CANNOT_SAY = "cannot say"


@dataclass(frozen=True)
class _Written:
    """Pydantic metadata: a message or a form, with the places it may have; `several`: a list of them, or one."""

    read: Callable[[object, Collection[str]], Wording]
    places: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    several: bool = False

    def _one(self, written: object) -> Wording:
        found = self.read(written, self.places)
        for word in self.needs:
            if not found.has(word):
                raise WrittenError(f"{found.text!r} has no {{{word}}}", f"write {{{word}}} where it stands")
        return found

    def _all(self, written: object) -> Any:
        if not self.several:
            return self._one(written)
        listed = written if isinstance(written, list) else [written]
        if not listed:
            raise WrittenError("the list is empty", "write one text or more, or leave the key out")
        return tuple(self._one(entry) for entry in listed)

    def __get_pydantic_core_schema__(self, source: Any, _handler: GetCoreSchemaHandler) -> CoreSchema:
        schema = core_schema.no_info_plain_validator_function(self._all)
        return core_schema.nullable_schema(schema) if type(None) in get_args(source) else schema

    def __get_pydantic_json_schema__(self, _schema: CoreSchema, _handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        text: JsonSchemaValue = {"type": ["string", "number"], "maxLength": patterns.LONGEST}
        return {"anyOf": [text, {"type": "array", "items": text, "minItems": 1}]} if self.several else text


def _sent(*places: str, several: bool = False) -> _Written:
    return _Written(patterns.message, places, several=several)


def _came(*places: str, needs: tuple[str, ...] = (), several: bool = False) -> _Written:
    return _Written(patterns.form, places, needs, several)


Forms = tuple[Wording, ...]


def _confirms(forms: Forms) -> Forms:
    for found in forms:
        if patterns.only_star(found):
            raise WrittenError(f"{found.text!r} fits every reply and so confirms nothing", "write what the reply says")
    return forms


class Identifies(Settings):
    """How the instrument is asked who it is; what `reply` has no place for, the instrument cannot say."""

    ask: Annotated[Wording, _sent()]
    reply: Annotated[Wording, _came(*WHO)]

    @field_validator("reply")
    @classmethod
    def _says_something(cls, reply: Wording) -> Wording:
        if not any(reply.has(word) for word in WHO[:3]):
            _confirms((reply,))
        return reply


class Complaints(Settings):
    """How the instrument is asked for its errors. What is neither `none` nor `some` is no reply to this question."""

    ask: Annotated[Wording, _sent()]
    none: Annotated[Forms, _came(several=True), AfterValidator(_confirms)]  # the replies that mean no error
    some: Annotated[Forms, _came(several=True)] = (patterns.form("*", ()),)

    def entry(self, reply: str) -> str:
        """What it complains of, "" for nothing; ValueError for a reply of neither form."""
        if any(found.match(reply) is not None for found in self.none):
            return ""
        if any(found.match(reply) is not None for found in self.some):
            return reply or "nothing, where it says that nothing is wrong"
        raise ValueError(f"the map knows {', '.join(repr(found.text) for found in (*self.none, *self.some))}")


class Reading(Settings):
    """How a reading is had: by asking, or by listening to an instrument that sends without being asked."""

    select: Annotated[Forms, _sent("input", several=True)] = ()
    """Messages before the first reading of a block, and before each one of another input."""
    ask: Annotated[Wording | None, _sent("input")] = None
    reply: Annotated[Wording | None, _came("value", "input", needs=("value",))] = None
    listen: Annotated[Wording | None, _came("value", needs=("value",))] = None
    overload: Annotated[Forms, _came("input", several=True), AfterValidator(_confirms)] = ()
    """Replies that mean no number."""
    busy: Annotated[Forms, _came("input", several=True), AfterValidator(_confirms)] = ()
    """Replies that mean no number yet: it is asked again, until one `timeout` has gone by."""

    @field_validator("ask", mode="before")
    @classmethod
    def _one_question(cls, ask: object) -> object:
        if isinstance(ask, list):
            raise WrittenError("a question is one text", "write the messages before it under `select`")
        return ask

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        asks = self.ask is not None or self.reply is not None
        if asks == (self.listen is not None):
            raise WrittenError("a reading is asked for or listened for", "write `ask` and `reply`, or `listen` alone")
        if asks and (self.ask is None or self.reply is None):
            raise WrittenError("`ask` and `reply` belong together", "write both")
        if self.select and not asks:
            raise WrittenError("an instrument that is listened to is never told anything", "leave `select` out")
        return self

    @property
    def has_inputs(self) -> bool:
        """Whether its messages say which input is read."""
        return any(found.has("input") for found in (*self.select, self.ask) if found is not None)

    @property
    def form(self) -> Wording:
        """The form of a reading."""
        found = self.reply or self.listen
        assert found is not None, "see `_one_way`"
        return found


class Setting(Settings):
    """How a value is set, and read back where `ask` says how."""

    send: Annotated[Forms, _sent("value", "rate", several=True)]
    ask: Annotated[Wording | None, _sent()] = None
    reply: Annotated[Wording | None, _came("value", needs=("value",))] = None

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if (self.ask is None) != (self.reply is None):
            raise WrittenError("`ask` and `reply` belong together", "write both, or neither")
        return self


class Rate(Setting):
    """The rate of change, in a unit of its own; `send` may stay out where the target's message carries {rate}."""

    send: Annotated[Forms, _sent("rate", several=True)] = ()
    unit: str
    reply: Annotated[Wording | None, _came("rate", needs=("rate",))] = None


class State(Settings):
    """A state that is asked for: the replies that say it is so, and those that say it is not. Others are faults."""

    ask: Annotated[Wording, _sent()]
    yes: Annotated[Forms, Field(alias="is"), _came(several=True), AfterValidator(_confirms)]
    no: Annotated[Forms, Field(alias="is not"), _came(several=True)]

    def of(self, reply: str) -> bool:
        """The state; ValueError for a reply of neither form, or of both (a bare `*` is all that `is` leaves)."""
        yes, no, others = (
            any(found.match(reply) is not None for found in forms if patterns.only_star(found) == bare)
            for forms, bare in ((self.yes, False), (self.no, False), (self.no, True))
        )
        if yes == no and (yes or not others):
            known = ", ".join(repr(found.text) for found in (*self.yes, *self.no))
            raise ValueError(f"{'not one but several' if yes else 'none'} of {known} fit")
        return yes


class Safe(State):
    """The safe state: how it is taken, and how it is read back."""

    send: Annotated[Forms, _sent(several=True)]


class Valve(State):
    """The valve between source and part: `send` shuts it, `send back` opens it, `is` says that it is shut."""

    send: Annotated[Forms, _sent(several=True)]
    send_back: Annotated[Forms, _sent(several=True)]
    no: Annotated[Forms, Field(alias="is not"), _came(several=True), AfterValidator(_confirms)]


class Rotation(Settings):
    """How a source that can do so turns the part about the load, in degrees, and how its angle is read back."""

    send: Annotated[Forms, _sent("value", several=True)]
    ask: Annotated[Wording, _sent()]
    reply: Annotated[Wording, _came("value", needs=("value",))]

    @field_validator("send")
    @classmethod
    def _says_where(cls, send: Forms) -> Forms:
        if not any(found.has("value") for found in send):
            raise WrittenError("no message of `rotate` has {value}", "write {value} where the angle stands")
        return send


class CommandMap(VisaSettings):
    """What every map says."""

    quantity: KindName
    unit: str
    scale: Annotated[Quantity, quantity("number")] = parse("1", "number")  # value in `unit` = number × scale
    decimal: Literal["point", "comma"] = "point"
    delay: Annotated[Quantity, quantity("time", at_most="60 s")] = parse("0 s", "time")  # after each message
    greeting: Annotated[Forms, _came(several=True)] = ()  # the lines that come unasked after each connection
    identity: Identifies | None
    error: Complaints | None = None
    at_start: Annotated[Forms, _sent(several=True)] = ()
    """Messages that are sent when it is opened."""
    acknowledged: Annotated[Forms, _came("message", several=True), AfterValidator(_confirms)] = ()
    """Its replies to each message that is no question; none come where this is left out."""

    @field_validator("unit")
    @classmethod
    def _of_the_kind(cls, written: str, info: ValidationInfo) -> str:
        return _unit(written, info.data.get("quantity"))

    @field_validator("scale")
    @classmethod
    def _scales(cls, scale: Quantity) -> Quantity:
        if scale.value == 0:
            raise WrittenError("a scale of 0 makes every reading 0", "write what one count is worth in `unit`")
        return scale

    @field_validator("identity", mode="before")
    @classmethod
    def _or_cannot(cls, written: object) -> object:
        if written == CANNOT_SAY:
            return None
        if isinstance(written, str | None):
            raise WrittenError(f"{written!r} is no way to ask", "write {ask: …, reply: …}, or: cannot say")
        return written

    def to_base(self, number: float) -> float:
        """A number as the instrument sends it, in the base unit of the quantity."""
        factor, offset = kind_of(self.quantity).units[self.unit]
        return number * self.scale.value * float(factor) + float(offset)

    def from_base(self, value: float) -> float:
        """The number that stands for a value in the base unit."""
        factor, offset = kind_of(self.quantity).units[self.unit]
        return (value - float(offset)) / float(factor) / self.scale.value


class MeterMap(CommandMap):
    """`settings:` of a described meter."""

    acknowledged: Annotated[Forms, _came("message", "input", several=True), AfterValidator(_confirms)] = ()
    read: Reading

    @model_validator(mode="after")
    def _talk_only(self) -> Self:
        told = (self.greeting, self.identity, self.error, self.at_start, self.acknowledged, self.delay.value)
        if self.read.listen is not None and any(told):
            raise WrittenError(
                "an instrument that is listened to is never told or asked anything",
                "write `identity: cannot say`, without `greeting`, `error`, `at start`, `acknowledged` and `delay`",
            )
        return self


class SourceMap(CommandMap):
    """`settings:` of a described source. Without a safe state that can be read back there is no source."""

    acknowledged: Annotated[Forms, _came("message", "value", "rate", several=True), AfterValidator(_confirms)] = ()
    decimals: Annotated[int, Field(ge=0, le=9)] = 3  # of the numbers that are sent
    rate: Rate
    target: Setting
    start: Annotated[Forms, _sent(several=True)] = ()  # after the target, where that alone does not set it moving
    settled: State
    safe: Safe
    isolate: Valve | None = None
    rotate: Rotation | None = None

    @field_validator("scale")
    @classmethod
    def _not_upside_down(cls, scale: Quantity) -> Quantity:
        if scale.value < 0:
            raise WrittenError(f"a scale of {scale.text} turns the load round", "write a scale above 0")
        return scale

    @field_validator("rate")
    @classmethod
    def _unit_of_the_rate(cls, rate: Rate, info: ValidationInfo) -> Rate:
        kind = info.data.get("quantity")
        if kind is not None and not kind_of(kind).rate:
            raise WrittenError(f"{kind} has no rate", "a source moves a pressure, a force or a torque")
        try:
            return rate.model_copy(update={"unit": _unit(rate.unit, kind and kind_of(kind).rate)})
        except WrittenError as error:
            raise wrong(("unit",), error.message, error.remedy, rate.unit) from None

    @model_validator(mode="after")
    def _everything_is_sent(self) -> Self:
        targets = self.target.send
        if not any(found.has("value") for found in targets):
            raise WrittenError("no message of `target` has {value}", "write {value} where the target stands")
        if not any(found.has("rate") for found in (*self.rate.send, *targets)):
            raise WrittenError("no message of `rate` or `target` has {rate}", "write {rate} where the rate stands")
        return self

    def rate_number(self, per_s: float) -> float:
        """The number that stands for a rate in base unit per second."""
        factor, _ = kind_of(kind_of(self.quantity).rate).units[self.rate.unit]
        return per_s / float(factor)


def _unit(written: str, kind: str | None) -> str:
    """A unit as its kind prints it; one of another kind is refused with the right ones."""
    if kind is None:
        return written
    units = kind_of(kind)
    found = units.also.get(written, written)
    if found not in units.units:
        raise WrittenError(f"{written!r} is no unit of {kind}", did_you_mean(written, [u for u in units.units if u]))
    return found
