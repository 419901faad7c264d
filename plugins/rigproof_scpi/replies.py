"""Reply texts and blocks turned into values, strictly: what does not match its form to the last byte is refused.

Every function raises `ValueError` with the rule that was broken; the session adds what was asked and what came.
"""

from __future__ import annotations

import math
import re

import numpy as np

from rigproof.instruments import FloatArray, Identity

# Digits are bounded so that no reply can make the conversion slow.
_NUMBER = re.compile(r"[+-]?(?:\d{1,30}(?:\.\d{0,30})?|\.\d{1,30})(?:[Ee][+-]?\d{1,3})?", re.ASCII)
_REGISTER = re.compile(r"\+?(\d{1,5})", re.ASCII)
_ERROR_ENTRY = re.compile(r'([+-]?\d{1,5}),"((?:[^"]|""){0,255})"', re.ASCII)
_BLOCK_HEADER = re.compile(rb"#([1-9])(\d+)")

# SCPI-1999, volume 1, 7.2.1: 9.9E37 is infinity, 9.91E37 is not-a-number. The gap between them is taken
# in halves, because an instrument that keeps 32-bit numbers sends neighbours of the two.
_INFINITY, _BETWEEN, _LIMIT = 9.895e37, 9.905e37, 9.915e37
_VALUE_BYTES = 8


def number(text: str) -> float:
    """A decimal number (IEEE 488.2, 8.7.2 to 8.7.4): NR1, NR2 or NR3; SCPI's codes come out as ±inf and nan."""
    if not _NUMBER.fullmatch(text):
        raise ValueError("the reply must be one decimal number such as 3.5575E+06")
    value = float(text)
    if abs(value) >= _LIMIT:
        raise ValueError("a number lies below 9.9E37 (SCPI's infinity)")
    if abs(value) >= _BETWEEN:
        return math.nan
    return math.copysign(math.inf, value) if abs(value) >= _INFINITY else value


def boolean(text: str) -> bool:
    """A state as `1` or `0` (SCPI-1999, volume 1, 7.3)."""
    if text not in {"0", "1"}:
        raise ValueError("a state is answered with 1 or 0")
    return text == "1"


def register(text: str) -> int:
    """A 16-bit status register, whose bit 15 is never set (SCPI-1999, status reporting)."""
    match = _REGISTER.fullmatch(text)
    if match is None or int(match[1]) > 32767:
        raise ValueError("a status register is a whole number from 0 to 32767")
    return int(match[1])


def error_entry(text: str) -> str:
    """An entry of the error queue (SCPI-1999, volume 2, 21.8): `-113,"Undefined header"`; "" when it is empty."""
    match = _ERROR_ENTRY.fullmatch(text)
    if match is None:
        raise ValueError('an entry of the error queue is a number, a comma and a quoted text, such as 0,"No error"')
    return "" if int(match[1]) == 0 else text


def identity(text: str) -> Identity:
    """The four fields of `*IDN?` (IEEE 488.2, 10.14)."""
    fields = [field.strip(" ") for field in text.split(",")]
    if len(fields) != 4:
        raise ValueError(f"an identity has four fields separated by commas, not {len(fields)}")
    if not (fields[0] and fields[1]):
        raise ValueError("maker and model of an identity may not be empty")
    return Identity(*fields)


def block_header(start: bytes | bytearray, expected_bytes: int) -> int:
    """Length of the header at the start of a definite-length block (IEEE 488.2, 8.7.9) of `expected_bytes` of data."""
    match = _BLOCK_HEADER.match(start)
    if match is None or len(match[2]) < int(match[1]):
        raise ValueError("a definite-length block starts with #, the count of digits, and its length in bytes")
    digits = int(match[1])
    announced = int(match[2][:digits])
    if announced != expected_bytes:
        raise ValueError(f"the block must announce {expected_bytes} bytes, not {announced}")
    return 2 + digits


def block_values(data: bytes) -> FloatArray:
    """Big-endian 64-bit numbers; overload and not-a-number become nan."""
    values = np.frombuffer(data, dtype=">f8").astype(np.float64)
    size = np.abs(values)
    if size.max(initial=0.0) < _INFINITY:  # false for nan, too
        return values
    if np.any(np.isfinite(values) & (size >= _LIMIT)):
        raise ValueError("a number lies below 9.9E37 (SCPI's infinity); is the byte order big-endian?")
    return np.where(size < _INFINITY, values, np.nan)


def block_bytes(value_count: int) -> int:
    """Bytes that `value_count` numbers take."""
    return value_count * _VALUE_BYTES
