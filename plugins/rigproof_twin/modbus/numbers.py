"""Numbers and states in registers, as a map in rig.yaml describes them."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from math import isfinite

from rigproof.quantities import KINDS
from rigproof_twin.fields import field_of

# struct's letter, registers, lowest and highest value of each data type
TYPES: dict[str, tuple[str, int, float, float]] = {
    "int16": ("h", 1, -32768, 32767),
    "uint16": ("H", 1, 0, 65535),
    "int32": ("i", 2, -(2**31), 2**31 - 1),
    "uint32": ("I", 2, 0, 2**32 - 1),
    "float32": ("f", 2, -3.4e38, 3.4e38),
    "float64": ("d", 4, -1.7e308, 1.7e308),
}


@dataclass(frozen=True)
class Place:
    """An entry of a table."""

    table: str
    address: int

    @classmethod
    def of(cls, entry: object) -> Place:
        """The place that an entry of the map names."""
        return cls(str(field_of(entry, "table")), int(str(field_of(entry, "address"))))


@dataclass(frozen=True)
class Number:
    """A number of one kind of quantity."""

    place: Place
    data_type: str
    low_first: bool
    scale: float
    offset: float
    factor: float
    base_offset: float

    @classmethod
    def of(cls, entry: object, kind: str) -> Number:
        """What an entry of the map says of a number that stands for `kind`."""
        units, also = KINDS[kind].units, KINDS[kind].also
        text = str(field_of(field_of(entry, "unit"), "text"))
        factor, base_offset = units[also.get(text, text)]
        return cls(
            Place.of(entry),
            str(field_of(entry, "type")),
            field_of(entry, "word order") == "low first",
            float(str(field_of(entry, "scale"))),
            float(str(field_of(entry, "offset"))),
            float(factor),
            float(base_offset),
        )

    @property
    def size(self) -> int:
        """Registers it takes."""
        return TYPES[self.data_type][1]

    def words(self, base: float) -> list[int]:
        """Registers of a value in the base unit; a value beyond the type stops at its end."""
        return self.raw_words(((base - self.base_offset) / self.factor - self.offset) / self.scale)

    def raw_words(self, raw: float) -> list[int]:
        """Registers of a raw number."""
        letter, _, lowest, highest = TYPES[self.data_type]
        held = min(max(raw, lowest), highest) if isfinite(raw) else raw
        data = struct.pack(">" + letter, held if letter in "fd" else round(held))
        return self._ordered([int.from_bytes(data[i : i + 2], "big") for i in range(0, len(data), 2)])

    def base(self, words: list[int]) -> float:
        """The value in the base unit that registers hold."""
        data = b"".join(word.to_bytes(2, "big") for word in self._ordered(words))
        raw = float(struct.unpack(">" + TYPES[self.data_type][0], data)[0])
        return (raw * self.scale + self.offset) * self.factor + self.base_offset

    def overload(self, entry: object) -> list[int]:
        """What stands there instead of a reading: the first word of the map, else not-a-number or the type's end."""
        listed = field_of(entry, "overload")
        first = listed[0] if isinstance(listed, tuple) and listed else None
        if isinstance(first, str):
            return self._ordered([int(first[i : i + 4], 16) for i in range(2, len(first), 4)])
        if isinstance(first, float):
            return self.raw_words(first)
        return self.raw_words(float("nan") if self.data_type.startswith("float") else TYPES[self.data_type][3])

    def _ordered(self, words: list[int]) -> list[int]:
        return words[::-1] if self.low_first else words
