"""The table of kinds: every factor against an independent library, no spelling with two meanings."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

import pint
import pytest

from rigproof.quantities import KINDS, Kind, kind_of, parse

# How pint writes what it does not know, or knows under another name.
PINT = {
    "µε": "1e-6", "%": "0.01", "‰": "0.001", "ppm": "1e-6", "°": "degree", "l": "liter", "ml": "milliliter",
    "t": "metric_ton", "in": "inch", "lbf": "force_pound", "h": "hour", "d": "day", "min": "minute",
    "": "1",
}  # fmt: skip
REGISTRY: Any = pint.UnitRegistry()
EVERY_UNIT = [(kind.name, unit) for kind in KINDS.values() for unit in kind.units]
DEGREES = {"°C", "K"}


def in_pint(unit: str) -> str:
    words = re.split(r"([/·()²³])", unit)
    operators = {"·": "*", "²": "**2", "³": "**3"}
    written = [operators.get(word, PINT.get(word, word) if word else "") for word in words]
    return "".join(written).replace("Ω", "ohm").replace("µ", "micro") or "1"


@pytest.mark.parametrize(("kind", "unit"), [pair for pair in EVERY_UNIT if pair[0] != "temperature"])
def test_factor_agrees_with_pint(kind: str, unit: str) -> None:
    ours = float(KINDS[kind].units[unit][0])
    theirs: Any = REGISTRY.Quantity(REGISTRY.parse_expression(in_pint(unit)))
    base: Any = REGISTRY.Quantity(REGISTRY.parse_expression(in_pint(KINDS[kind].base)))
    assert (theirs / base).to("").magnitude == pytest.approx(ours, rel=1e-12)
    assert KINDS[kind].units[unit][1] == 0


@pytest.mark.parametrize("unit", sorted(DEGREES))
def test_temperature_agrees_with_pint(unit: str) -> None:
    theirs = REGISTRY.Quantity(300.0, "kelvin").to("degC").magnitude
    written = {"K": "300 K", "°C": "26.85 °C"}[unit]
    assert parse(written, "temperature").value == pytest.approx(theirs, rel=1e-12)
    assert set(KINDS["temperature"].units) == DEGREES


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)
def test_kind_holds_together(kind: Kind) -> None:
    found = kind_of(kind.name)
    assert found is kind
    assert found.shown in found.units
    assert found.difference in KINDS
    assert not found.rate or found.rate in KINDS
    assert found.base in {"1", "1/s"} or found.units[found.base] == (Fraction(1), Fraction(0))
    assert KINDS[found.difference].difference == found.difference, "a difference of differences is one"
    assert set(found.also.values()) <= set(found.units)
    assert not set(found.also) & set(found.units), "a spelling has one meaning"


def test_prefixes_are_never_folded() -> None:
    assert parse("1 mΩ", "resistance").value == 1e-3
    assert parse("1 MΩ", "resistance").value == 1e6


def test_unknown_kind_is_a_defect_with_the_nearest_name() -> None:
    with pytest.raises(ValueError, match="'gage pressure' is no kind of quantity; did you mean 'gauge pressure'"):
        kind_of("gage pressure")
