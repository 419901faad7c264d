"""Numbers in 16-bit registers: data types and word orders.

Within a register the high byte comes first (MODBUS Application Protocol V1.1b3, 4.2). The standard says nothing of
numbers wider than a register, so makers differ in which word comes first: the manual of the instrument tells.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence
from typing import Literal

DataType = Literal["int16", "uint16", "int32", "uint32", "float32", "float64"]
WordOrder = Literal["high first", "low first"]

_FORMATS: dict[str, str] = {
    "int16": ">h",
    "uint16": ">H",
    "int32": ">i",
    "uint32": ">I",
    "float32": ">f",
    "float64": ">d",
}


def words_of(data_type: DataType) -> int:
    """How many registers a number takes."""
    return struct.calcsize(_FORMATS[data_type]) // 2


def is_whole(data_type: DataType) -> bool:
    """True for a type that holds whole numbers only."""
    return "int" in data_type


def smallest(data_type: DataType) -> float:
    """The smallest number above zero that a floating-point type holds with all its digits (IEEE 754 `emin`)."""
    return math.ldexp(1.0, -126 if data_type == "float32" else -1022)


def decode(words: Sequence[int], data_type: DataType, word_order: WordOrder) -> float | int:
    """The number that registers hold; `words` in the order of their addresses, 0..65535 each, of the right count."""
    high_first = words if word_order == "high first" else words[::-1]
    number: float | int = struct.unpack(_FORMATS[data_type], struct.pack(f">{len(words)}H", *high_first))[0]
    return number


def encode(number: float, data_type: DataType, word_order: WordOrder) -> list[int]:
    """The registers for a number, in the order of their addresses; whole types take the nearest whole number.

    ValueError where the type cannot hold it.
    """
    if not math.isfinite(number):
        raise ValueError(f"{number} is no finite number")
    try:
        data = struct.pack(_FORMATS[data_type], round(number) if is_whole(data_type) else number)
    except (struct.error, OverflowError):
        raise ValueError(f"{number:g} does not fit into {data_type}") from None
    high_first = list(struct.unpack(f">{len(data) // 2}H", data))
    return high_first if word_order == "high first" else high_first[::-1]
