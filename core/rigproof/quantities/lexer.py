"""Written text to an exact number and a unit: strict, bounded, nothing evaluated.

A number has at most 18 digits on each side of the point and a two-digit exponent, so that no text, however hostile,
costs time or memory.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from fractions import Fraction

from rigproof.errors import QuantityError
from rigproof.quantities.kinds import KINDS, Kind
from rigproof.quantities.nearest import nearest

NUMBER = r"[+-]?(?:[0-9]{1,18}(?:\.[0-9]{1,18})?|\.[0-9]{1,18})(?:[eE][+-]?[0-9]{1,2}(?![0-9]))?"
LONGEST = 120  # characters of a written quantity

_NUMBER = re.compile(NUMBER)
_COMMA = re.compile(r"(?<![0-9.,])[0-9]+(?:,[0-9]+)+(?:\.[0-9]+)?")
_THOUSANDS = re.compile(r"[0-9]{1,3},000")


class WrittenError(QuantityError):
    """Something written that cannot be used: what is wrong and, apart, what to write instead."""

    def __init__(self, message: str, remedy: str) -> None:
        self.message, self.remedy = message, remedy
        super().__init__(f"{message}; {remedy}" if remedy else message)


class UnitError(WrittenError):
    """The number can be read, but its unit is missing or belongs to something else."""


def clean(written: object) -> str:
    """The text with one form for each letter (µ, Ω, minus, spaces, superscripts); refuses what is no text."""
    if not isinstance(written, str):
        what = "nothing" if written is None else f"a {type(written).__name__}"
        raise WrittenError(f"{what} stands where a text is wanted", "write a number with its unit, such as '10 min'")
    if len(written) > LONGEST:
        raise WrittenError(f"{written[:20]!r}… has {len(written)} characters", f"write at most {LONGEST}")
    if not written.strip():
        raise WrittenError("the text is empty", "write a number with its unit, such as '10 min'")
    # NFKC makes one of the two µ, of Ω and the ohm sign, of wide and narrow spaces; ² becomes a plain 2.
    return unicodedata.normalize("NFKC", written).replace("\u03bc", "µ").replace("\u2212", "-").strip()


def split(text: str, kind: Kind) -> tuple[Fraction, str]:
    """The number and the unit of a `clean` text; the unit is one of `kind.units`."""
    refuse_commas(text)
    found = _NUMBER.match(text)
    if found is None:
        raise WrittenError(f"{text!r} does not begin with a number", f"write it like {example(kind)!r}")
    rest = text[found.end() :]
    if rest[:1].isdigit() or (rest[:1] in {"e", "E"} and rest[1:2].isdigit()):
        raise WrittenError(f"{text!r} has too many digits", "write at most 18 digits, two in the exponent")
    return Fraction(found.group()), unit_in(rest.strip(), kind, text)


def refuse_commas(text: str) -> None:
    """Raise a WrittenError for numbers with a comma, all of them at once, with what is meant."""
    if not (found := _COMMA.findall(text)):
        return
    said = "has commas in its numbers" if len(found) > 1 else "has a comma in the number"
    remedy = f"write a decimal point, as in {_COMMA.sub(lambda one: _without_comma(one.group()), text)!r}"
    if _THOUSANDS.fullmatch(found[0]):
        remedy += f", or {text.replace(',', '')!r} if thousands are meant"
    raise WrittenError(f"{text!r} {said}", remedy)


def _without_comma(number: str) -> str:
    """A decimal comma as a point; commas between thousands go."""
    return number.replace(",", "" if "." in number or number.count(",") > 1 else ".")


def unit_in(written: str, kind: Kind, text: str) -> str:
    """The unit of `kind` that `written` stands for; `text` is the whole quantity, for the message."""
    unit = kind.also.get(written, written)
    if unit in kind.units:
        return unit
    if not written:
        raise UnitError(
            f"{text!r} has no unit: {a(kind.name)} is wanted", f"{units_of(kind)}, for example {example(kind)!r}"
        )
    spelled = [u for u in (*kind.units, *kind.also) if u]
    best = _meant(written, spelled)
    remedy = f"{f'did you mean {best!r}? ' if best else ''}{units_of(kind)}"
    others = [k.name for k in KINDS.values() if written in k.units or written in k.also]
    if others:
        said = f"{written!r} is a unit of {one_of(others)}, and {a(kind.name)} is wanted"
        raise UnitError(f"{text!r}: {said}", remedy)
    raise UnitError(f"{text!r}: {written!r} is no unit of {kind.name}", remedy)


def _meant(written: str, spelled: Sequence[str]) -> str | None:
    """The unit that somebody misspelt; none where a prefix too much or too little would change its size."""
    # A unit that differs in its capitals alone: the first letter is a prefix, and M is not m.
    same = [u for u in spelled if u.casefold() == written.casefold()]
    best = next((u for u in same if u[0] == written[0]), None) or nearest(written, same or spelled)
    if best is None or (not same and (written.endswith(best) or best.endswith(written))):
        return None
    return best


def units_of(kind: Kind) -> str:
    """What to write, as a remedy: the units of a kind."""
    units = [u for u in kind.units if u]
    bare = "" in kind.units
    if not units:
        return "write a bare number, without a unit"
    return f"write {'a bare number or ' if bare else ''}one of the units {', '.join(units)}"


def example(kind: Kind) -> str:
    """A text of this kind that would be right."""
    return f"10 {kind.shown}".strip()


def a(name: str) -> str:
    """The name with its article."""
    return f"{'an' if name[:1] in 'aeiou' else 'a'} {name}"


def one_of(names: Sequence[str]) -> str:
    """A list for people: "a, b or c"."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
