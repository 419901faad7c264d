"""A number with a unit, as written and as computed with."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from rigproof.quantities.kinds import Kind, kind_of
from rigproof.quantities.lexer import UnitError, WrittenError, clean, one_of, split

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt


@dataclass(frozen=True)
class Quantity:
    """A value in the base unit of its kind, with the text it was written as."""

    value: float
    kind: str
    text: str

    def __str__(self) -> str:
        return self.text


def parse(written: object, kind: str) -> Quantity:
    """Read a text such as "35.75 bar" as a quantity of `kind`; a QuantityError says what to write instead."""
    value, _unit = exact(clean(written), kind_of(kind))
    return Quantity(float(value), kind, str(written).strip())


def unit_of(written: object, kind: str) -> str:
    """The unit that a quantity of `kind` is written in."""
    return exact(clean(written), kind_of(kind))[1]


def parse_any(written: object, kinds: Sequence[str]) -> Quantity:
    """Read a text as a quantity of the one of `kinds` that its unit belongs to (the first, where several fit)."""
    if len(kinds) == 1:
        return parse(written, kinds[0])
    for kind in kinds:
        try:
            return parse(written, kind)
        except UnitError:
            continue
    units = dict.fromkeys(unit for kind in kinds for unit in kind_of(kind).units if unit)
    raise UnitError(f"{clean(written)!r} is no {one_of(kinds)}", f"write one of the units {', '.join(units)}")


def exact(text: str, kind: Kind) -> tuple[Fraction, str]:
    """The exact value in base units of a `clean` text, and its unit as in `kind.units`."""
    number, unit = split(text, kind)
    factor, offset = kind.units[unit]
    value = number * factor + offset
    if kind.lowest is not None and value < kind.lowest:
        bound = show(float(kind.lowest), kind.name)
        remedy = (
            "write a temperature in °C, a difference where one is wanted"
            if unit == "K"
            else "correct the value or its unit"
        )
        as_shown = show(float(value), kind.name)
        said = repr(text) if text == as_shown else f"{text!r} is {as_shown}"
        raise WrittenError(f"{said}: no {kind.name} is below {bound}", remedy)
    return value, unit


def unit(kind: str) -> str:
    """The unit in which tables and drawings give this kind; "" for a bare number."""
    return kind_of(kind).shown


def fitting(value: float, kind: str) -> str:
    """The unit in which a message gives a value in base units: 58.8 N and not 0.0588 kN.

    Of a kind whose values range over decades the largest unit that leaves a number of 1 or more, the least for
    smaller ones; `unit(kind)` for all other kinds.
    """
    scale = kind_of(kind)
    if not scale.ladder or not math.isfinite(value):
        return scale.shown
    fits = [name for name in scale.ladder if abs(value) >= float(scale.units[name][0])]
    return fits[-1] if fits else scale.ladder[0]


def shown(value: float | npt.NDArray[np.float64], kind: str, in_unit: str = "") -> float | npt.NDArray[np.float64]:
    """A value in base units, or an array of them, in a unit of the kind; `unit(kind)` where none is named."""
    scale = kind_of(kind)
    factor, offset = scale.units[in_unit or scale.shown]
    return (value - float(offset)) / float(factor)


def show(value: float, kind: str, digits: int = 6, in_unit: str = "") -> str:
    """A value in base units for people, with `digits` significant figures: "35.75 bar", "236.1 µε"."""
    if math.isnan(value):
        return "no value"
    chosen = in_unit or fitting(value, kind)
    text = "∞" if value > 0 else "-∞"
    if math.isfinite(value):
        # To 12 digits first, so that one value reads alike wherever it was computed; + 0.0: no minus zero.
        text = _plain(f"{float(f'{shown(value, kind, chosen):.{max(12, digits)}g}') + 0.0:.{digits}g}")
    return f"{text} {chosen}".strip()


def _plain(number: str) -> str:
    """Digits without an exponent where they stay readable."""
    if "e" not in number:
        return number
    exponent = int(number.partition("e")[2])
    return f"{Decimal(number):f}" if -8 <= exponent <= 12 else number
