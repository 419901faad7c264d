"""Replies are taken to the last byte or not at all."""

from __future__ import annotations

import math
import struct

import numpy as np
import pytest

from rigproof.instruments import Identity
from rigproof_scpi import replies


@pytest.mark.parametrize(
    ("text", "value"),
    [("0", 0.0), ("+12", 12.0), ("-.5", -0.5), ("3.", 3.0), ("+3.5575E+06", 3.5575e6), ("1e-5", 1e-5), ("1E37", 1e37)],
)
def test_number_forms(text: str, value: float) -> None:
    assert replies.number(text) == value


@pytest.mark.parametrize("text", ["9.9E37", "9.9E+37", "+9.90000E37", "9.9000001e37"])
def test_infinity(text: str) -> None:
    assert replies.number(text) == math.inf
    assert replies.number(f"-{text.lstrip('+')}") == -math.inf


@pytest.mark.parametrize("text", ["9.91E37", "9.91E+37", "-9.91E37", "9.9100001e37"])
def test_not_a_number(text: str) -> None:
    assert math.isnan(replies.number(text))


@pytest.mark.parametrize(
    "text",
    [
        "", " ", ".", "+", "1.2E", "1.2E+", "1.2E-", "1,2", "1.0,2.0", "1.0 2.0", "1.0\n2.0", " 1.0", "1.0 ", "1.0\r",
        "nan", "inf", "0x10", "1_000", "1.0 V", "ERROR", "1" * 31, "1E1000", "1e38", "-1E99", "１", "--1",
    ],
)  # fmt: skip
def test_what_is_no_number(text: str) -> None:
    with pytest.raises(ValueError, match=r"number"):
        replies.number(text)


def test_boolean() -> None:
    assert replies.boolean("1") is True
    assert replies.boolean("0") is False
    for text in ("ON", "2", "01", "+1", ""):
        with pytest.raises(ValueError, match="1 or 0"):
            replies.boolean(text)


def test_register() -> None:
    assert replies.register("+2") == 2
    assert replies.register("32767") == 32767
    for text in ("32768", "-1", "2.0", "100000", ""):
        with pytest.raises(ValueError, match="32767"):
            replies.register(text)


def test_error_entry() -> None:
    assert replies.error_entry('0,"No error"') == ""
    assert replies.error_entry('+0,"No error"') == ""
    assert replies.error_entry('-113,"Undefined header; ""FOO"""') == '-113,"Undefined header; ""FOO"""'
    for text in ("0", "0,No error", '-113,"open', '-113,"a" "b"', "3.5", ""):
        with pytest.raises(ValueError, match="error queue"):
            replies.error_entry(text)


def test_identity() -> None:
    assert replies.identity("Test bay, thermometer,T-0031,1.0") == Identity("Test bay", "thermometer", "T-0031", "1.0")
    assert replies.identity("Test bay,thermometer,0,") == Identity("Test bay", "thermometer", "0", "")
    for text, why in [
        ("a,b,c", "not 3"),
        ("a,b,c,d,e", "not 5"),
        ("", "not 1"),
        (",b,c,d", "empty"),
        ("a,,c,d", "empty"),
    ]:
        with pytest.raises(ValueError, match=why):
            replies.identity(text)


def test_block_header() -> None:
    assert replies.block_header(b"#216" + bytes(16), 16) == 4
    assert replies.block_header(b"#3016" + bytes(16), 16) == 5  # leading zeros are allowed
    assert replies.block_header(b"#18" + b"12345678", 8) == 3  # data that look like digits are data


@pytest.mark.parametrize("start", [b"", b"#", b"#0", b"#a16", b"#216"[:3], b"1.0,2.0", b"##16", b"#2-1"])
def test_what_is_no_block_header(start: bytes) -> None:
    with pytest.raises(ValueError, match="definite-length block"):
        replies.block_header(start, 16)


def test_block_of_another_length() -> None:
    with pytest.raises(ValueError, match="16 bytes, not 8"):
        replies.block_header(b"#18" + bytes(8), 16)


def test_block_values() -> None:
    sent = [1.5e-3, -2.0, 9.9e37, -9.9e37, 9.91e37, math.nan, math.inf]
    values = replies.block_values(struct.pack(">7d", *sent))
    np.testing.assert_array_equal(values, [1.5e-3, -2.0] + 5 * [math.nan])
    assert values.dtype == np.float64


def test_block_in_the_wrong_byte_order() -> None:
    """A double whose lowest byte is 7E turns into some 1e300: one such value gives the order away."""
    (value,) = struct.unpack(">d", struct.pack(">d", 4.83e-4)[:7] + b"\x7e")
    assert value == pytest.approx(4.83e-4, rel=1e-13)
    with pytest.raises(ValueError, match="big-endian"):
        replies.block_values(struct.pack("<2d", 4.83e-4, value))
