"""Mappings inside a quantity, such as `{value: …, U: …, k: …}`: read key by key, every error kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

from rigproof.errors import QuantityError
from rigproof.quantities.kinds import kind_of
from rigproof.quantities.lexer import WrittenError, clean, split

T = TypeVar("T")

CERTIFICATE = ("value", "U", "k")
STATISTICS = ("value", "s", "n")
ACCURACY = ("U", "k")
LARGEST_K = 14  # 13.97 at one degree of freedom and 95.45 % (JCGM 100:2008, table G.2)


class FormError(QuantityError):
    """All that is wrong in a mapping form, by key."""

    def __init__(
        self, problems: Mapping[str, WrittenError], missing: list[str], unknown: list[str], keys: tuple[str, ...]
    ):
        self.problems, self.missing, self.unknown, self.keys = dict(problems), missing, unknown, keys
        said = [f"{key}: {error}" for key, error in problems.items()]
        said += [f"key '{key}' is missing" for key in missing] + [f"unknown key '{key}'" for key in unknown]
        super().__init__("; ".join(said) + f"; the form is {{{', '.join(f'{key}: …' for key in keys)}}}")


class Form:
    """A mapping form being read."""

    def __init__(self, written: Mapping[object, object], keys: tuple[str, ...]) -> None:
        self._written, self._keys = written, keys
        self._problems: dict[str, WrittenError] = {}

    def take(self, key: str, read: Callable[[object], T]) -> T | None:
        """What `read` makes of the value under `key`; None when that failed or the key is not there."""
        if key not in self._written:
            return None
        try:
            return read(self._written[key])
        except WrittenError as error:
            self._problems[key] = error
            return None

    def finish(self) -> None:
        """Raise a FormError if anything was wrong, missing or unknown."""
        missing = [key for key in self._keys if key not in self._written]
        unknown = [str(key) for key in self._written if key not in self._keys]
        if self._problems or missing or unknown:
            raise FormError(self._problems, missing, unknown, self._keys)


def form_text(written: Mapping[object, object], keys: tuple[str, ...]) -> str:
    """The mapping as one line."""
    return "{" + ", ".join(f"{key}: {written[key]}" for key in keys) + "}"


def coverage_factor(written: object) -> float:
    """A k: a bare number above 0, up to the largest that 95 % coverage ever takes."""
    number, _ = split(clean(written), kind_of("number"))
    if not 0 < number <= LARGEST_K:
        said = f"k = {written} is not above 0 and at most {LARGEST_K}"
        raise WrittenError(said, "write the coverage factor of the certificate, often 2")
    return float(number)


def observations(written: object) -> float:
    """An n: how many values a standard deviation comes from, 2 or more."""
    number, _ = split(clean(written), kind_of("number"))
    if number < 2 or number.denominator != 1:
        raise WrittenError(f"n = {written} is not a whole number from 2 on", "write how many values s comes from")
    return float(number)
