"""Written quantities: what is read, what is refused and with which remedy."""

from __future__ import annotations

import math
from contextlib import suppress
from decimal import Decimal
from fractions import Fraction
from time import perf_counter

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from rigproof.errors import QuantityError
from rigproof.quantities import KINDS, Kind, WrittenError, parse, show, shown, unit

GOOD = [
    ("35.75 bar", "gauge pressure", 3_575_000.0),
    ("35.75 bar(g)", "gauge pressure", 3_575_000.0),
    ("35.75 barg", "gauge pressure", 3_575_000.0),
    ("1.013 bar(a)", "absolute pressure", 101_300.0),
    ("-0.5 bar", "gauge pressure", -50_000.0),
    ("235 N/mm2", "stress", 235e6),
    ("206 GPa", "stress", 206e9),
    ("-20 °C", "temperature", -20.0),
    ("\u221220 degC", "temperature", -20.0),  # the printed minus
    ("293.15 K", "temperature", 20.0),
    ("0.1 K", "temperature difference", 0.1),
    ("120 µε", "strain", 120e-6),
    ("120 \u03bc\u03b5", "strain", 120e-6),  # the Greek mu
    ("120 ue", "strain", 120e-6),
    ("120 um/m", "strain", 120e-6),
    ("50 %", "ratio", 0.5),
    ("0.29", "ratio", 0.29),
    ("5e-3", "number", 0.005),
    ("2 mV/V", "bridge output", 2e-3),
    ("174.8 kohm", "resistance", 174_800.0),
    ("174.8 k\u2126", "resistance", 174_800.0),  # the ohm sign
    ("1 GΩ", "insulation resistance", 1e9),
    ("10min", "time", 600.0),
    ("10\u00a0min", "time", 600.0),  # a space that does not break
    ("40 L", "volume", 0.04),
    ("0.04 m³", "volume", 0.04),
    ("11 ppm/K", "expansion", 11e-6),
    ("6 ppm/degC", "expansion", 6e-6),
    ("0.5 bar/s", "pressure rate", 5e4),
    ("0.05 K/h", "temperature rate", 0.05 / 3600),
    ("0.05 °C/h", "temperature rate", 0.05 / 3600),
    ("2 kN·m", "torque", 2000.0),
    ("2 kN m", "torque", 2000.0),
    ("2 N*m", "torque", 2.0),
    ("2 N\u22c5m", "torque", 2.0),
    ("250 N mm", "torque", 0.25),
    ("250 Nmm", "torque", 0.25),
    ("3 kN*mm", "torque", 3.0),
    ("40 N cm", "torque", 0.4),
    ("10 N mm/s", "torque rate", 0.01),
    ("1 lbf ft", "torque", 1.3558179483314004),
    ("12 lbf·in", "torque", 1.3558179483314004),
    ("2 kNm", "torque", 2000.0),
    ("+5 V", "voltage", 5.0),
    (".5 V", "voltage", 0.5),
]

BAD = [
    ("35,75 bar", "gauge pressure", "write a decimal point, as in '35.75 bar'"),
    ("1,000 bar", "gauge pressure", "write a decimal point, as in '1.000 bar', or '1000 bar' if thousands are meant"),
    ("1,234.5 bar", "gauge pressure", "as in '1234.5 bar'"),
    ("1,234,567 Ω", "resistance", "as in '1234567 Ω'"),
    ("10", "time", "has no unit: a time is wanted; write one of the units µs, ms, s, min, h, d"),
    ("1:20", "time", "':20' is no unit of time"),
    ("NO", "time", "does not begin with a number; write it like '10 s'"),
    ("on", "ratio", "does not begin with a number"),
    ("", "time", "the text is empty"),
    ("   ", "time", "the text is empty"),
    ("10 bar", "time", "'bar' is a unit of gauge pressure, absolute pressure or pressure difference, and a time"),
    ("1 %", "strain", "'%' is a unit of ratio, and a strain is wanted"),
    ("2 mV/V", "strain", "'mV/V' is a unit of bridge output, and a strain is wanted"),
    ("35.75 bar(g)", "absolute pressure", "'bar(g)' is a unit of gauge pressure, and an absolute pressure is wanted"),
    ("1 bar(a)", "gauge pressure", "'bar(a)' is a unit of absolute pressure"),
    ("5 K", "temperature", "write a temperature in °C, a difference where one is wanted"),
    ("5 °C", "temperature difference", "'°C' is a unit of temperature, and a temperature difference is wanted"),
    ("5 M", "length", "did you mean 'm'?"),
    ("206", "stress", "write one of the units Pa, kPa, MPa, GPa, N/mm², psi, ksi, for example '10 MPa'"),
    ("11.7e-6", "expansion", "write one of the units 1/K, ppm/K, µε/K, %/K, for example '10 ppm/K'"),
    ("30 Mpsi", "stress", "'Mpsi' is no unit of stress; write one of the units Pa, kPa, MPa, GPa, N/mm², psi, ksi"),
    ("2 bar", "number", "write a bare number, without a unit"),
    ("2 bar", "ratio", "write a bare number or one of the units %, ‰, ppm"),
    ("-1.02 bar", "gauge pressure", "no gauge pressure is below -1.01325 bar"),
    ("350 Ohm", "resistance", "did you mean 'ohm'?"),
    ("0.5 bar", "pressure rate", "did you mean 'bar/s'?"),
    ("9**9**9 m", "length", "'**9**9 m' is no unit of length"),
    ("1 bar + 2 psi", "gauge pressure", "'bar + 2 psi' is no unit of gauge pressure"),
    ("__import__('os')", "length", "does not begin with a number"),
    ("10 000 µε", "strain", "'000 µε' is no unit of strain"),
    ("1_000 s", "time", "'_000 s' is no unit of time"),
    ("0x10 s", "time", "'x10 s' is no unit of time"),
    ("٣ s", "time", "does not begin with a number"),
    ("1e999999999 ohm", "resistance", "too many digits"),
    ("1e100 ohm", "resistance", "too many digits"),
    ("1" * 19 + " ohm", "resistance", "too many digits"),
    ("1" * 200, "number", "has 200 characters"),
    ("5. V", "voltage", "is no unit of voltage"),
    ("nan", "number", "does not begin with a number"),
    ("inf V", "voltage", "does not begin with a number"),
    ("-1 s", "time", "no time is below 0 s"),
    ("-2 bar", "gauge pressure", "no gauge pressure is below"),
    ("-300 °C", "temperature", "no temperature is below -200 °C"),
]


@pytest.mark.parametrize(("text", "kind", "value"), GOOD)
def test_reads(text: str, kind: str, value: float) -> None:
    quantity = parse(text, kind)
    assert quantity.value == pytest.approx(value, rel=1e-15)
    assert quantity.kind == kind
    assert str(quantity) == quantity.text == text


@pytest.mark.parametrize(("text", "kind", "said"), BAD)
def test_refuses(text: str, kind: str, said: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, kind)
    assert said in str(caught.value)
    assert isinstance(caught.value, WrittenError)
    assert caught.value.message
    assert caught.value.remedy


@pytest.mark.parametrize("written", [None, 3, 3.5, True, ["3 s"], {"value": "3 s"}])
def test_refuses_what_is_no_text(written: object) -> None:
    with pytest.raises(QuantityError, match="where a text is wanted"):
        parse(written, "time")


def test_hostile_texts_cost_nothing() -> None:
    texts = ["9" * 10**7, "1e" + "9" * 10**6, "9**9**9 m", "\ufdfa" * 120, "(" * 10**6, "1 " + "µ" * 118]
    start = perf_counter()
    for text in texts:
        with pytest.raises(QuantityError):
            parse(text, "length")
    assert perf_counter() - start < 1.0


def numbers() -> st.SearchStrategy[Decimal]:
    return st.decimals(min_value=-(10**9), max_value=10**9, places=6)


@given(st.sampled_from([(kind, unit) for kind in KINDS.values() for unit in (*kind.units, *kind.also)]), numbers())
def test_every_unit_is_read_exactly(pair: tuple[Kind, str], number: Decimal) -> None:
    kind, spelling = pair
    found = KINDS[kind.name]
    factor, offset = found.units[found.also.get(spelling, spelling)]
    exact = Fraction(number) * factor + offset
    assume(found.lowest is None or exact >= found.lowest)
    assert parse(f"{number:f} {spelling}", found.name).value == float(exact)


@given(st.sampled_from(sorted(KINDS)), st.floats(min_value=1e-4, max_value=1e6))
def test_what_is_shown_can_be_read_back(kind: str, number: float) -> None:
    found = KINDS[kind]
    factor, offset = found.units[found.shown]
    value = float(Fraction(number) * factor + offset)
    again = parse(show(value, kind, digits=15), kind).value
    assert again == pytest.approx(value, rel=1e-13, abs=1e-12 if offset else 0)


@given(st.text(), st.sampled_from(sorted(KINDS)))
def test_arbitrary_text_is_a_quantity_or_a_quantity_error(text: str, kind: str) -> None:
    with suppress(QuantityError):
        assert math.isfinite(parse(text, kind).value)


SHOWN = [
    (3_575_000.0, "gauge pressure", "35.75 bar"),
    (236.1e-6, "strain", "236.1 µε"),
    (2e10, "insulation resistance", "20 GΩ"),
    (58.85, "force", "58.85 N"),
    (-2_500.0, "force", "-2.5 kN"),
    (0.0, "force", "0 N"),
    (-0.0, "ratio", "0 %"),
    (9.145e-6, "strain per force", "9.145 µε/N"),
    (9.145e-9, "strain per force", "9.145 µε/kN"),
    (1800.0, "time", "1800 s"),
    (129_600.0, "time", "36 h"),
    (0.05, "ratio", "5 %"),
    (0.29, "number", "0.29"),
    (1_234_567.0, "number", "1234570"),
    (0.0, "strain", "0 µε"),
    (1.25e-13, "strain", "0.000000125 µε"),
    (1e30, "number", "1e+30"),
    (math.inf, "insulation resistance", "∞ MΩ"),
    (-math.inf, "strain", "-∞ µε"),
    (math.nan, "strain", "no value"),
    (20.0, "temperature", "20 °C"),
]


@pytest.mark.parametrize(("value", "kind", "text"), SHOWN)
def test_shows(value: float, kind: str, text: str) -> None:
    assert show(value, kind) == text


def test_shown_takes_arrays() -> None:
    np.testing.assert_allclose(shown(np.array([1e5, 2e5]), "gauge pressure"), [1.0, 2.0])
    assert unit("gauge pressure") == "bar"
    assert show(123_456.0, "gauge pressure", digits=3) == "1.23 bar"
