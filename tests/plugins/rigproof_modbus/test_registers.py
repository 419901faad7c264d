"""Numbers in registers: against IEEE 754 bit patterns in print, against struct, and there and back."""

from __future__ import annotations

import math
import struct
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.quantities import WrittenError
from rigproof_modbus.maps import InputAt
from rigproof_modbus.registers import DataType, WordOrder, decode, encode, words_of

TYPES: tuple[DataType, ...] = get_args(DataType)
ORDERS: tuple[WordOrder, ...] = get_args(WordOrder)
WHOLE = {
    "int16": (-(2**15), 2**15 - 1),
    "uint16": (0, 2**16 - 1),
    "int32": (-(2**31), 2**31 - 1),
    "uint32": (0, 2**32 - 1),
}

# Bit patterns: 0.15625 and 1/3 from the article "Single-precision floating-point format", 0.1 from the one on double
# precision, -118.625 from "IEEE 754-1985", all of the English Wikipedia, from memory; two's complement by hand.
PRINTED: list[tuple[DataType, float, list[int]]] = [
    ("float32", 0.15625, [0x3E20, 0x0000]),
    ("float32", -118.625, [0xC2ED, 0x4000]),
    ("float32", 1.0, [0x3F80, 0x0000]),
    ("float64", 0.1, [0x3FB9, 0x9999, 0x9999, 0x999A]),
    ("float64", 1 / 3, [0x3FD5, 0x5555, 0x5555, 0x5555]),
    ("int16", -120, [0xFF88]),
    ("uint16", 65416, [0xFF88]),
    ("int32", -2, [0xFFFF, 0xFFFE]),
    ("uint32", 305419896, [0x1234, 0x5678]),
]


@pytest.mark.parametrize(("data_type", "number", "high_first"), PRINTED)
def test_printed_patterns(data_type: DataType, number: float, high_first: list[int]) -> None:
    assert encode(number, data_type, "high first") == high_first
    assert encode(number, data_type, "low first") == high_first[::-1]
    assert decode(high_first, data_type, "high first") == number
    assert decode(high_first[::-1], data_type, "low first") == number


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("data_type", TYPES)
@given(data=st.data())
def test_registers_come_back_as_they_were(data: st.DataObject, data_type: DataType, order: WordOrder) -> None:
    words = data.draw(st.lists(st.integers(0, 0xFFFF), min_size=words_of(data_type), max_size=words_of(data_type)))
    number = decode(words, data_type, order)
    if math.isfinite(number):
        assert encode(number, data_type, order) == words or number == 0  # -0 of an integer round trip does not occur
    else:
        with pytest.raises(ValueError, match="finite"):
            encode(number, data_type, order)


@pytest.mark.parametrize("data_type", WHOLE)
@given(data=st.data())
def test_whole_numbers_round_and_never_wrap(data: st.DataObject, data_type: DataType) -> None:
    lowest, highest = WHOLE[data_type]
    number = data.draw(st.floats(-1e12, 1e12))
    if lowest - 0.5 < number < highest + 0.5:
        assert decode(encode(number, data_type, "high first"), data_type, "high first") == round(number)
    elif not lowest - 0.5 <= number <= highest + 0.5:
        with pytest.raises(ValueError, match="does not fit"):
            encode(number, data_type, "high first")


@given(st.floats(allow_nan=False, allow_infinity=False, width=32))
def test_float32_against_struct(number: float) -> None:
    data = struct.pack("<f", number)  # the other byte order: all four bytes turned round
    assert encode(number, "float32", "high first") == [data[3] << 8 | data[2], data[1] << 8 | data[0]]


def at(**written: Any) -> InputAt:
    usual = {"table": "input", "address": "0", "type": "int16", "unit": "bar"}
    return InputAt.model_validate(usual | {key.replace("_", " "): value for key, value in written.items()})


@given(
    st.floats(-1e7, 1e7), st.integers(1, 100_000), st.integers(-100_000, 100_000), st.sampled_from(["bar", "psi", "°C"])
)
def test_scale_offset_and_unit_there_and_back(base: float, scale: int, offset: int, unit: str) -> None:
    number = at(type="float64", word_order="low first", scale=f"{scale}e-4", offset=f"{offset}e-3", unit=unit)
    assert number.base(number.registers(base)) == pytest.approx(base, rel=1e-9, abs=1e-6)


def test_overload_words() -> None:
    """Hexadecimal digits are registers, high word first whatever the order; a number is the raw number."""
    low = at(type="float32", word_order="low first", overload=["0x7FC00001", "9999.9"])
    assert math.isnan(low.reading([0x0001, 0x7FC0]))
    assert math.isnan(low.reading(list(reversed(struct.unpack(">2H", struct.pack(">f", 9999.9))))))
    assert low.reading([0x0000, 0x3F80]) == 1e5
    signed = at(overload="-32768", scale="0.01")
    assert math.isnan(signed.reading([0x8000]))
    assert signed.reading([0x8001]) == pytest.approx(-327.67e5)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"overload": "0x7FFF7FFF"}, "has 8 digits, and a int16 has 4"),
        ({"overload": "40000"}, "40000 does not fit into int16"),
        ({"overload": "high"}, "'high' is no number"),
        ({"scale": "0"}, "every reading the same"),
        ({"scale": "1 bar"}, "'1 bar' is no number"),
        ({"unit": "K"}, "may be a temperature or a difference"),
        ({"unit": "Bar"}, "'Bar' is no unit"),
        ({"table": "coil"}, "a coil is one bit"),
        ({"type": "float32"}, "takes 2 registers"),
        ({"type": "float64", "word_order": "low first", "address": "65533"}, "goes beyond register 65535"),
        ({"address": "400001"}, "400001 is no protocol address"),
        ({"address": "1.5"}, "'1.5' is no whole number"),
        ({"address": "0x10000"}, "65536 is no protocol address"),
    ],
)
def test_maps_that_cannot_be(wrong: dict[str, str], said: str) -> None:
    with pytest.raises(ValueError, match=said.replace("(", r"\(")):
        at(**wrong)


def test_hexadecimal_addresses_as_in_makers_tables() -> None:
    assert at(address="0x006B").address == 107
    assert isinstance(WrittenError("a", "b"), ValueError)
