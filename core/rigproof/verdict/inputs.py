"""An input of a budget in the unit that people use: the one it was written in, else the usual one of its kind.

The verdict keeps base units; here they become `206.0 GPa`, `174.80 kΩ`, `425.2375 µV/V`.
"""

from __future__ import annotations

import re

from rigproof.quantities import KINDS, Kind, fitting, kind_of, show

from . import words
from .record import BudgetLine, Check

_FIRST = re.compile(r"[-+]?\d[\d.]*(?:e[-+]?\d+)?\s*([^\s\d,;±}]*)")  # the first number of a text, and its unit
_SMALL = {"V/V": ("bridge output", "µV/V"), "m³": ("volume", "ml")}  # the usual unit is too large for a budget
_SHARED = {"Pa": ("gauge pressure", "bar"), "1": ("number", "")}  # bases of several kinds, of which this is read most
PER = " per "  # between the two units of a slope


def value(line: BudgetLine, check: Check) -> str:
    """The estimate, to the digits of its u: `206.0 GPa`."""
    if PER in line.unit:
        factor, unit = _of_slope(line)
        return f"{words.rounded(line.value * factor, line.u * factor, 'number')} {unit}"
    kind, unit = _kind_and_unit(line, check)
    return words.rounded(line.value, line.u if line.value else 0.0, kind, unit)


def u(line: BudgetLine, check: Check, digits: int = 2) -> str:
    """The standard uncertainty in the same unit: `2.4 GPa`."""
    if PER in line.unit:
        factor, unit = _of_slope(line)
        return f"{show(line.u * factor, 'number', digits)} {unit}"
    kind, unit = _kind_and_unit(line, check)
    return show(line.u, kind_of(kind).difference, digits, words.unit_of_difference(kind, unit))


def _of_slope(line: BudgetLine) -> tuple[float, str]:
    """What to take a slope times for usual units, and these: `µV/V per bar`."""
    over, under = (_usual(base, 0.0) for base in line.unit.split(PER))
    factors = [float(kind_of(kind).units[unit][0]) for kind, unit in (over, under)]
    return factors[1] / factors[0], f"{over[1]}{PER}{under[1]}"


def _kind_and_unit(line: BudgetLine, check: Check) -> tuple[str, str]:
    """A kind that has the line's base unit, and one of its units."""
    if written := _FIRST.search(line.stated):
        unit = written[1]
        for kind in _of_base(line.unit):
            if (spelt := kind.also.get(unit, unit)) in kind.units:
                return (kind.name, spelt) if spelt else ("number", "")
    if line.unit not in _SMALL and line.unit == check.unit and abs(abs(line.sensitivity) - 1) < 1e-3:
        return check.kind, words.unit_of(check)  # the result takes it one to one
    return _usual(line.unit, line.value)


def _usual(base: str, size: float) -> tuple[str, str]:
    """Of what nobody wrote, such as a mean of readings."""
    if base in _SMALL or base in _SHARED:
        return _SMALL.get(base) or _SHARED[base]
    kind = _of_base(base)[0].name
    return kind, fitting(size, kind)


def _of_base(base: str) -> list[Kind]:
    return [kind for kind in KINDS.values() if kind.base == base]
