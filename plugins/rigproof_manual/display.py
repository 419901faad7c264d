"""The display of a meter: its unit, its steps, what is plausible on it, and a typed text as one of its readings."""

from __future__ import annotations

import math
import re
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema, field_validator

from rigproof.documents.validation import consequence
from rigproof.models import BridgeModel, DocumentModel
from rigproof.quantities import KindName, Quantity, WrittenError, kind_of, parse, quantity

OVERLOAD = ("overload", "over", "ol")
_BARE = re.compile(r"[+\-\u2212]?[0-9]*[.,]?[0-9]+\.?([eE][+-]?[0-9]+)?")
_KEEP = re.compile(r"keep\s*:\s*\S.*\S", re.IGNORECASE)
_BARE_KEEP = re.compile(r"keep\b.*", re.IGNORECASE)


def _value(written: Any, info: ValidationInfo) -> Any:
    return written if isinstance(written, Quantity) else parse(written, _kind(info))


def _step(written: Any, info: ValidationInfo) -> Any:
    return written if isinstance(written, Quantity) else parse(written, kind_of(_kind(info)).difference)


def _kind(info: ValidationInfo) -> str:
    if "reads" not in info.data:
        raise consequence()
    return str(info.data["reads"])


_WRITTEN = WithJsonSchema({"type": "string", "description": "in a unit of what the display reads"})
Value = Annotated[Quantity, BeforeValidator(_value), _WRITTEN]
Step = Annotated[Quantity, BeforeValidator(_step), _WRITTEN]


class Display(DocumentModel):
    """What one input shows. `lowest` to `highest` is plausible on it; a reading beyond is kept with a reason only.

    A strain indicator turns bridge output into strain by the linear law, shown = 4 r / GF with the gauge factor it is
    set to, for one active arm and for more (ASTM E251 and instrument practice, from memory). So r = shown GF / 4 gives
    back what it measured, whatever the true gauge factor is: the reduction of the channel does the rest.
    """

    label: Annotated[str, Field(min_length=1, max_length=60)]  # what is to be read, in the words of the bench
    reads: KindName
    unit: str
    gauge_factor_set: Annotated[Quantity | None, quantity("number", above="0")] = None
    resolution: Step
    lowest: Value
    highest: Value

    @field_validator("unit")
    @classmethod
    def _of_its_kind(cls, unit: str, info: ValidationInfo) -> str:
        kind = kind_of(_kind(info))
        found = kind.also.get(unit, unit)
        if found not in kind.units:
            raise WrittenError(f"{unit!r} is no unit of {kind.name}", f"write one of {', '.join(kind.units)}")
        return found

    @field_validator("gauge_factor_set")
    @classmethod
    def _of_a_strain_indicator(cls, factor: Quantity | None, info: ValidationInfo) -> Quantity | None:
        shows_strain = _kind(info) == "strain"
        if shows_strain and factor is None:
            raise WrittenError("an indicator shows strain for a gauge factor", "write the `gauge factor set` on it")
        if factor is not None and not shows_strain:
            raise WrittenError("a gauge factor belongs to a display of strain", "leave `gauge factor set` out")
        return factor

    @field_validator("resolution")
    @classmethod
    def _above_zero(cls, step: Quantity) -> Quantity:
        if step.value <= 0:
            raise WrittenError(f"{step.text!r} is not above 0", "write the step of the display's last digit")
        return step

    @field_validator("highest")
    @classmethod
    def _above_lowest(cls, highest: Quantity, info: ValidationInfo) -> Quantity:
        lowest = info.data.get("lowest")
        if lowest is not None and highest.value <= lowest.value:
            raise WrittenError(f"{highest.text!r} is not above {lowest.text!r}", "write the larger reading here")
        return highest

    @property
    def gives(self) -> str:
        """The kind of quantity that a reading stands for."""
        return BridgeModel.takes if self.gauge_factor_set else self.reads

    @property
    def per_shown(self) -> float:
        """Reading in the base unit of `gives` per what is shown in the base unit of `reads`."""
        return self.gauge_factor_set.value / 4 if self.gauge_factor_set else 1.0

    def read(self, typed: str) -> float:
        """A typed text in the base unit of `reads`; a bare number is in `unit`, overload is nan.

        Raises `WrittenError` for what is no reading of this display.
        """
        text = typed.strip()
        if text.lower() in OVERLOAD:
            return math.nan
        if not text:
            raise WrittenError("nothing was typed", f"type what {self.label} shows, or `overload`")
        if text.startswith(">"):
            raise WrittenError(f"{text!r} is above the range of the display", "type `overload`")
        value = parse(f"{text} {self.unit}" if _BARE.fullmatch(text) else text, self.reads).value
        steps = self.in_unit(value) / self._step_in_unit
        if abs(steps - round(steps)) > 1e-6 * max(1.0, abs(steps)):
            raise WrittenError(
                f"{text!r} is finer than the display, whose step is {self.resolution.text}", "look again"
            )
        return value

    def plausible(self, value: float) -> bool:
        """False outside the stated range; an overload is plausible, and for the checks to judge."""
        return math.isnan(value) or self.lowest.value <= value <= self.highest.value

    def shown(self, value: float) -> str:
        """A value (base unit of `reads`) as the display has it, with its unit."""
        if math.isnan(value):
            return "overload"
        digits = max(0, math.ceil(-math.log10(self._step_in_unit) - 1e-9))
        return f"{self.in_unit(value):.{digits}f} {self.unit}".strip()

    def in_unit(self, value: float) -> float:
        """A value in the base unit of `reads` as a number of `unit`."""
        factor, offset = kind_of(self.reads).units[self.unit]
        return (value - float(offset)) / float(factor)

    @property
    def _step_in_unit(self) -> float:
        return self.resolution.value / float(kind_of(self.reads).units[self.unit][0])


def keeps(reply: str, plausible: bool) -> bool:
    """Whether a reply to the repeat-back keeps the value: Enter, `yes`, `keep`; out of range only `keep: REASON`."""
    if not plausible:
        return _KEEP.fullmatch(reply.strip()) is not None
    return reply.strip().lower() in {"", "y", "yes"} or _BARE_KEEP.fullmatch(reply.strip()) is not None


def lacks_reason(reply: str) -> bool:
    """Whether a reply would keep an implausible value and does not say why."""
    return _BARE_KEEP.fullmatch(reply.strip()) is not None and not keeps(reply, plausible=False)
