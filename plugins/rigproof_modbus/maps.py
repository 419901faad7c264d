"""What a register map says in rig.yaml: where a number or a state stands, and how it is written there."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema, field_validator

from rigproof.models import DocumentModel
from rigproof.quantities import KINDS, WrittenError, did_you_mean

from .registers import DataType, WordOrder, decode, encode, is_whole, smallest, words_of

Table = Literal["holding", "input", "coil", "discrete"]
BITS = ("coil", "discrete")  # tables whose entries are one bit
MOST = 1e30  # our own bound: no quantity in any unit we know comes near it
LAST = 65535  # the highest address, and the highest value of a register

_WHOLE = re.compile(r"[0-9]{1,10}|0[xX][0-9a-fA-F]{1,16}")


def _whole(written: object) -> object:
    """A whole number, decimal or hexadecimal as in the makers' tables."""
    if not isinstance(written, str):
        return written
    if not _WHOLE.fullmatch(written.strip()):
        raise WrittenError(f"{written!r} is no whole number", "write it like 12 or 0x000C")
    return int(written.strip(), 0 if "x" in written.lower() else 10)


def _address(written: object) -> object:
    number = _whole(written)
    if isinstance(number, int) and not 0 <= number <= LAST:
        raise WrittenError(
            f"{number} is no protocol address: they go from 0 to {LAST}",
            "write the address counted from 0; a manual's reference 400001 is address 0 of the holding table",
        )
    return number


def _number(written: object) -> object:
    if isinstance(written, str) and not re.fullmatch(r"[+-]?[0-9]*\.?[0-9]+([eE][+-]?[0-9]{1,2})?", written.strip()):
        raise WrittenError(f"{written!r} is no number", "write it without a unit, like 0.01")
    return written


Whole = Annotated[int, BeforeValidator(_whole)]
Register = Annotated[Whole, Field(ge=0, le=LAST)]
Address = Annotated[int, BeforeValidator(_address)]
Bare = Annotated[float, BeforeValidator(_number), Field(allow_inf_nan=False)]


@dataclass(frozen=True)
class Unit:
    """A unit as written, and how it is converted: base = number * factor + offset."""

    text: str
    factor: float
    offset: float

    def suits(self, kind: str) -> bool:
        """True where quantities of `kind` are written in this unit."""
        return self.text in KINDS[kind].units or self.text in KINDS[kind].also


def _unit(written: object) -> object:
    """The unit of any kind of quantity; one whose conversion depends on the kind is refused."""
    if isinstance(written, Unit):
        return written
    text = written.strip() if isinstance(written, str) else ""
    scales = {kind.units[kind.also.get(text, text)] for kind in KINDS.values() if text in (*kind.units, *kind.also)}
    if not text or not scales:
        known = sorted({unit for kind in KINDS.values() for unit in kind.units if unit})
        raise WrittenError(f"{written!r} is no unit", did_you_mean(text, known))
    if len(scales) > 1:  # the kelvin: a temperature, or a difference of two
        raise WrittenError(
            f"{text!r} may be a temperature or a difference", "write °C, with offset: -273.15 for kelvin"
        )
    factor, offset = scales.pop()
    return Unit(text, float(factor), float(offset))


class At(DocumentModel):
    """Something in a table at a protocol address, counted from 0 as it goes over the wire."""

    table: Table
    address: Address

    def __str__(self) -> str:
        return f"{self.table} {self.address}"


class NumberAt(At):
    """A number in one or several registers: number in the unit = raw * scale + offset."""

    table: Literal["holding", "input"]
    type: DataType
    word_order: Annotated[WordOrder | None, Field(validate_default=True)] = None
    scale: Bare = 1.0
    offset: Bare = 0.0
    unit: Annotated[Unit, BeforeValidator(_unit), WithJsonSchema({"type": "string", "description": "such as bar"})]

    @field_validator("table", mode="before")
    @classmethod
    def _of_registers(cls, table: object) -> object:
        if table in BITS:
            raise WrittenError(f"a {table} is one bit and holds no number", "write holding or input")
        return table

    @field_validator("type")
    @classmethod
    def _fits(cls, data_type: DataType, info: ValidationInfo) -> DataType:
        first = info.data.get("address", 0)
        if first + words_of(data_type) - 1 > LAST:
            raise WrittenError(f"a {data_type} at {first} goes beyond register {LAST}", "correct type or address")
        return data_type

    @field_validator("word_order")
    @classmethod
    def _known_where_it_matters(cls, order: WordOrder | None, info: ValidationInfo) -> WordOrder | None:
        words = words_of(info.data["type"]) if "type" in info.data else 1
        if words > 1 and order is None:
            raise WrittenError(
                f"a {info.data['type']} takes {words} registers, and makers differ in which comes first",
                "add `word order: high first` or `word order: low first`, as the manual says",
            )
        return order

    @field_validator("scale")
    @classmethod
    def _scales(cls, scale: float) -> float:
        if scale == 0.0:
            raise WrittenError("a scale of 0 makes every reading the same", "write the unit's worth of one count")
        return scale

    @property
    def words(self) -> int:
        """How many registers it takes."""
        return words_of(self.type)

    def raw(self, words: Sequence[int]) -> float | int:
        """The number as it stands in the registers."""
        return decode(words, self.type, self.word_order or "high first")

    def unlike_a_value(self, words: Sequence[int]) -> str:
        """What a floating-point type holds that no instrument has measured; "" for anything else.

        Two halves in the wrong order, or of two numbers, make such a number of most values. Not a number and
        infinity are what instruments say where they cannot measure.
        """
        raw = self.raw(words)
        if is_whole(self.type) or not math.isfinite(raw) or raw == 0 or smallest(self.type) <= abs(raw) <= MOST:
            return ""
        return f"{raw:.4g} as {self.type}, {self.word_order}"

    def base(self, words: Sequence[int]) -> float:
        """The value in the base unit."""
        return (self.raw(words) * self.scale + self.offset) * self.unit.factor + self.unit.offset

    def registers(self, base: float) -> list[int]:
        """The registers for a value in the base unit; ValueError where they cannot hold it."""
        in_unit = (base - self.unit.offset) / self.unit.factor
        return encode((in_unit - self.offset) / self.scale, self.type, self.word_order or "high first")

    @property
    def step(self) -> float:
        """The step between two neighbouring values in the base unit; 0 for floating-point types."""
        return abs(self.scale * self.unit.factor) if is_whole(self.type) else 0.0


def _overloads(written: Any) -> Any:
    """One word or several."""
    return [written] if isinstance(written, str) else written


def _overload(written: object) -> object:
    if isinstance(written, str) and re.fullmatch(r"0[xX]([0-9a-fA-F]{4}){1,4}", written.strip()):
        return written.strip().lower()
    return _number(written)


class InputAt(NumberAt):
    """A number that is read; `overload` lists what stands there when the instrument cannot measure.

    Four, eight or sixteen hexadecimal digits are the registers themselves, high word first; anything else is the raw
    number before scale and offset.
    """

    overload: Annotated[
        tuple[Annotated[str | float, BeforeValidator(_overload)], ...], BeforeValidator(_overloads)
    ] = ()

    @field_validator("overload")
    @classmethod
    def _of_the_type(cls, words: tuple[str | float, ...], info: ValidationInfo) -> tuple[str | float, ...]:
        data_type: DataType | None = info.data.get("type")
        for word in words:
            if data_type is None:
                break
            if isinstance(word, str) and word.startswith("0x"):
                if len(word) - 2 != 4 * words_of(data_type):
                    raise WrittenError(
                        f"{word} has {len(word) - 2} digits, and a {data_type} has {4 * words_of(data_type)}",
                        "write four digits for each register",
                    )
                continue
            try:
                encode(float(word), data_type, "high first")
            except ValueError as error:
                raise WrittenError(f"{error}", f"write a raw number that a {data_type} can hold") from None
        return tuple(word if isinstance(word, str) and word.startswith("0x") else float(word) for word in words)

    def reading(self, words: Sequence[int]) -> float:
        """The value in the base unit; nan for overload and for what is not a finite number."""
        raw = self.raw(words)
        high_first = words if self.word_order != "low first" else words[::-1]
        digits = "0x" + "".join(f"{word:04x}" for word in high_first)
        if not math.isfinite(raw) or digits in self.overload or self._is_overload(raw):
            return math.nan
        return self.base(words)

    def unlike_a_value(self, words: Sequence[int]) -> str:
        """The same; what the map says of overload is none of it."""
        return "" if math.isnan(self.reading(words)) else super().unlike_a_value(words)

    def _is_overload(self, raw: float) -> bool:
        return any(
            not isinstance(word, str) and self.registers_of(word) == self.registers_of(raw) for word in self.overload
        )

    def registers_of(self, raw: float) -> list[int]:
        """The registers of a raw number, so that 9999.9 is the same in a float32 and in rig.yaml."""
        return encode(raw, self.type, "high first")


class StateAt(At):
    """A state that is read: a coil or discrete input, a bit of a register (`bit`, 0 is the lowest), or all of it."""

    bit: Annotated[Whole | None, Field(ge=0, le=15, validate_default=True)] = None
    equals: Register

    @field_validator("bit")
    @classmethod
    def _of_a_register(cls, bit: int | None, info: ValidationInfo) -> int | None:
        if bit is not None and info.data.get("table") in BITS:
            raise WrittenError(f"a {info.data['table']} has one bit only", "leave `bit` out")
        return bit

    @field_validator("equals")
    @classmethod
    def _is_a_state(cls, value: int, info: ValidationInfo) -> int:
        if value > 1 and (info.data.get("table") in BITS or info.data.get("bit") is not None):
            raise WrittenError(f"{value} is no state of one bit", "write 0 or 1")
        return value

    def holds(self, value: int) -> bool:
        """True where what was read, a register or a bit as 0 or 1, is the state."""
        return (value if self.bit is None else value >> self.bit & 1) == self.equals

    def __str__(self) -> str:
        return super().__str__() + ("" if self.bit is None else f" bit {self.bit}")


class Written(At):
    """Something that is written: a coil or a holding register."""

    table: Literal["holding", "coil"]

    @field_validator("table", mode="before")
    @classmethod
    def _can_be_written(cls, table: object) -> object:
        if table in {"input", "discrete"}:
            raise WrittenError(f"the {table} table can only be read", "write coil or holding")
        return table


def one_bit(value: int, info: ValidationInfo) -> int:
    """The value of a coil is 0 or 1."""
    if value > 1 and info.data.get("table") == "coil":
        raise WrittenError(f"{value} is no value of a coil", "write 0 or 1")
    return value


class WriteAt(Written):
    """A value that is written, and where it is read back: at the same place, where nothing else is said."""

    value: Register
    reads_back: StateAt | None = None

    _bit = field_validator("value")(one_bit)

    @property
    def state(self) -> StateAt:
        """What must read back."""
        return self.reads_back or StateAt.model_validate({**_place(self), "equals": self.value})


class ValveAt(Written):
    """The valve between source and part."""

    open: Register = 1
    shut: Register

    _bit = field_validator("open", "shut")(one_bit)

    @field_validator("shut")
    @classmethod
    def _differ(cls, shut: int, info: ValidationInfo) -> int:
        if shut == info.data.get("open"):
            raise WrittenError(f"open and shut are both {shut}", "write the two values the manual gives")
        return shut

    def told(self, shut: bool) -> WriteAt:
        """What is written for one of the two."""
        return WriteAt.model_validate({**_place(self), "value": self.shut if shut else self.open})


class TargetAt(NumberAt):
    """A number that is set."""

    table: Literal["holding"]

    @field_validator("table", mode="before")
    @classmethod
    def _can_be_set(cls, table: object) -> object:
        if table == "input":
            raise WrittenError("an input register can only be read", "write holding")
        return table


def _place(at: At) -> dict[str, object]:
    return {"table": at.table, "address": at.address}
