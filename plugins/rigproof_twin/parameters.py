"""What may stand after a SCPI header: numbers, words, switches, channel lists.

IEEE 488.2-1992, 7.7; SCPI-1999, volume 1, 7 and 8.3.2; clauses from memory.

A kind turns the text of one parameter into a value, or raises `ScpiError` with the number the standard gives.
"""

from __future__ import annotations

import math
import re
from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Any

from rigproof_twin.status import ScpiError

_NUMBER = re.compile(r"([+-]?(?:\d++\.?\d*+|\.\d++))(?:\s*+[eE]\s*+([+-]?\d++))?\s*+(.*)", re.DOTALL)
_LIST = re.compile(r"\(\s*@\s*([\d:,\s]+)\)")
_SPAN = re.compile(r"\s*(\d{1,4})\s*(?::\s*(\d{1,4})\s*)?")

DIGITS = 255  # IEEE 488.2, 7.7.2.4.1
EXPONENT = 32000


class Kind(ABC):
    """One parameter of a command."""

    default: Any = None  # what a left-out parameter means; None: it may not be left out

    @abstractmethod
    def read(self, text: str) -> Any:
        """The value that `text` (never empty) stands for."""


@dataclass(frozen=True)
class Number(Kind):
    """A decimal number without suffix, or MINimum or MAXimum; -222 outside `lower`..`upper`."""

    lower: float = -math.inf
    upper: float = math.inf
    default: float | None = None

    def read(self, text: str) -> float:
        """Base units: the messages of this rig carry SI numbers only."""
        word = text.upper()
        if word in {"MIN", "MINIMUM"} and math.isfinite(self.lower):
            return self.lower
        if word in {"MAX", "MAXIMUM"} and math.isfinite(self.upper):
            return self.upper
        value = _number(text)
        if not self.lower <= value <= self.upper:
            raise ScpiError(-222, text)
        return value


@dataclass(frozen=True)
class Whole(Kind):
    """A whole number; a fraction is rounded (IEEE 488.2, 7.7.2.4.4)."""

    lower: int
    upper: int
    default: int | None = None

    def read(self, text: str) -> int:
        """Within `lower`..`upper`, else -222."""
        return round(Number(self.lower, self.upper).read(text))


@dataclass(frozen=True)
class Switch(Kind):
    """ON, OFF or a number, which is rounded: not zero means ON (SCPI-1999, vol. 1, 7.3)."""

    def read(self, text: str) -> bool:
        """-224 for any other word."""
        word = text.upper()
        if word in {"ON", "OFF"}:
            return word == "ON"
        if word[0].isalpha():
            raise ScpiError(-224, text)
        return abs(_number(text)) >= 0.5


@dataclass(frozen=True)
class Word(Kind):
    """One of a few words, each in its long and short form (`NORMal`)."""

    words: tuple[str, ...]

    def read(self, text: str) -> str:
        """The short form of the word; -224 for another word."""
        _refuse_other_types(text, but="letter")
        for word in self.words:
            if text.upper() in {word.upper(), short(word)}:
                return short(word)
        raise ScpiError(-224, text)


@dataclass(frozen=True)
class Channels(Kind):
    """A channel list `(@1,3:4)`, in the order written; a span may run downwards (SCPI-1999, vol. 1, 8.3.2)."""

    default: tuple[int, ...] | None = None

    def read(self, text: str) -> tuple[int, ...]:
        """Channel numbers 0..9999; whether they exist is for the instrument to say."""
        _refuse_other_types(text, but="(")
        inside = _LIST.fullmatch(text)
        if not inside:
            raise ScpiError(-171, text)
        numbers: list[int] = []
        for part in inside[1].split(","):
            span = _SPAN.fullmatch(part)
            if not span:
                raise ScpiError(-171, text)
            first, last = int(span[1]), int(span[2] or span[1])
            numbers.extend(range(first, last + 1) if first <= last else range(first, last - 1, -1))
        return tuple(numbers)


def short(mnemonic: str) -> str:
    """The short form of a mnemonic written as in the standard: its capitals (and digits)."""
    return "".join(c for c in mnemonic if not c.islower())


def _number(text: str) -> float:
    """Decimal numeric program data (IEEE 488.2, 7.7.2); -138 with a suffix, -222 beyond the range of a double."""
    _refuse_other_types(text, but="digit")
    found = _NUMBER.fullmatch(text)
    if not found or (found[3] and not found[3][0].isalpha()):
        raise ScpiError(-121, text)
    mantissa, exponent, suffix = found.groups()
    if suffix:
        raise ScpiError(-138, text)
    if len(mantissa) > DIGITS:
        raise ScpiError(-124, text)
    if exponent and (len(exponent) > 7 or abs(int(exponent)) > EXPONENT):
        raise ScpiError(-123, text)
    value = float(f"{mantissa}e{exponent or 0}")
    if math.isinf(value):
        raise ScpiError(-222, text)
    return value


_FORBIDDEN = {'"': -158, "'": -158, "#": -168, "(": -178}


def _refuse_other_types(text: str, but: str) -> None:
    """Raise the error that names what was sent, where `but` was due."""
    first = text[0]
    if first == but:
        return
    if first in _FORBIDDEN:
        raise ScpiError(_FORBIDDEN[first], text)
    if first.isalpha() and but != "letter":
        raise ScpiError(-148, text)
    if not first.isalpha() and but != "digit":
        raise ScpiError(-104, text)
