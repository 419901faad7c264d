"""The wording of a command map: messages with `{input}`, and forms of replies with `{value}` and `*`.

A form is read from left to right without going back: `*` and `{maker}` take the text up to the first place where what
follows them begins, `{value}` takes one decimal number with the blanks before it. So each form has one reading of a
reply, in time proportional to its length; no regular expression of the user's is ever run.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from itertools import pairwise

from rigproof.quantities import WrittenError, did_you_mean

LONGEST = 200  # characters of a message or form
MOST_PLACES = 20  # `*` and `{…}` in one of them
NUMBERS = frozenset({"value", "rate"})
KNOWN = frozenset({"input", "message"})  # what stands there is known before: what was asked for, or sent
_STEP = 1e-3  # relative; what comes back may be rounded to the instrument's own steps
_PLACE = re.compile(r"\{([^{}]*)\}")
_DIGITS, _EXPONENT = "[0-9]{1,18}", "(?:[Ee][+-]?[0-9]{1,2})?"
_NUMBER = {
    # digits are bounded and the parts cannot stand in for each other, so that no reply makes this slow
    point: re.compile(
        f" {{0,64}}([+-]? {{0,16}}(?:{_DIGITS}(?:[{point}][0-9]{{0,18}})?|[{point}]{_DIGITS}){_EXPONENT})"
    )
    for point in ".,"
}


@dataclass(frozen=True)
class Place:
    """A place in a wording: `*`, or the word between braces."""

    word: str

    @property
    def is_free(self) -> bool:
        """True where any text may stand."""
        return self.word not in NUMBERS and self.word not in KNOWN


@dataclass(frozen=True)
class Wording:
    """A message or form as written, and its parts in order."""

    text: str
    parts: tuple[str | Place, ...]

    def has(self, word: str) -> bool:
        """Whether `{word}` stands in it."""
        return Place(word) in self.parts

    def filled(self, **values: str) -> str:
        """The message with its places filled."""
        return "".join(part if isinstance(part, str) else values[part.word] for part in self.parts)

    def match(
        self, reply: str, comma: bool = False, *, channel_input: str = "", message: str = ""
    ) -> dict[str, str] | None:
        """What stands at the places of a reply; None where it does not have this form.

        `{input}` must hold exactly `channel_input`, and `{message}` the `message`; where there is none, nothing fits. A
        number comes back with a decimal point.
        """
        found: dict[str, str] = {}
        known = {"input": channel_input, "message": message}
        parts = [known.get(part.word, part) if isinstance(part, Place) else part for part in self.parts]
        if "" in parts:
            return None
        at, waiting = 0, None
        for index, part in enumerate(parts):
            if isinstance(part, str):
                start = _begin(reply, part, at, waiting is not None, index == len(parts) - 1)
                if start is None:
                    return None
                if waiting:
                    found[waiting] = reply[at:start]
                at, waiting = start + len(part), None
            elif part.is_free:
                waiting = part.word
            else:
                number = _NUMBER["," if comma else "."].match(reply, at)
                if number is None:
                    return None
                found[part.word], at = number[1].replace(",", ".").replace(" ", ""), number.end()
        if waiting:
            found[waiting] = reply[at:]
            at = len(reply)
        return found if at == len(reply) else None


def _begin(reply: str, literal: str, at: int, floating: bool, last: bool) -> int | None:
    """Where a literal part begins: here, or after free text at its first place (the last part: at the end)."""
    if floating and last:
        start = len(reply) - len(literal)
        return start if start >= at and reply.endswith(literal) else None
    start = reply.find(literal, at) if floating else at
    return start if start >= 0 and reply.startswith(literal, start) else None


def message(written: object, allowed: Collection[str]) -> Wording:
    """A message to be sent, where `{…}` is one of `allowed`; WrittenError says what to write instead."""
    text = _text(written, "message")
    return Wording(text, tuple(_parts(text, allowed)))


def form(written: object, allowed: Collection[str]) -> Wording:
    """The form of a reply, where `*` is any text and `{…}` one of `allowed`."""
    text = _text(written, "form")
    parts: list[str | Place] = []
    for part in _parts(text, allowed):
        if isinstance(part, Place):
            parts.append(part)
            continue
        for number, piece in enumerate(part.split("*")):
            parts += ([Place("*")] if number else []) + ([piece] if piece else [])
    _one_reading(text, parts)
    return Wording(text, tuple(parts))


def only_star(wording: Wording) -> bool:
    """True for a form that fits every reply."""
    return all(isinstance(part, Place) and part.is_free for part in wording.parts)


def _one_reading(text: str, parts: list[str | Place]) -> None:
    places = [part for part in parts if isinstance(part, Place)]
    named = [place.word for place in places if place.word != "*"]
    if len(places) > MOST_PLACES or len(set(named)) < len(named):
        raise WrittenError(f"{text!r} has a place twice, or more than {MOST_PLACES}", "write each `{…}` once")
    for first, second in pairwise(parts):
        if isinstance(first, Place) and isinstance(second, Place) and (first.is_free or second.is_free):
            shown = " and ".join("`*`" if place.word == "*" else f"`{{{place.word}}}`" for place in (first, second))
            raise WrittenError(
                f"{text!r}: nothing stands between {shown}, so nobody can say where one ends",
                "write the text that parts them",
            )
        if (
            isinstance(first, Place)
            and first.word in NUMBERS
            and isinstance(second, str)
            and second[0] in "0123456789."
        ):
            raise WrittenError(
                f"{text!r}: {second[0]!r} after `{{{first.word}}}` would be taken for a part of the number",
                "leave digits and points after a number out of the form",
            )


def _text(written: object, what: str) -> str:
    if not isinstance(written, str):
        raise WrittenError(f"a {what} is a text", "write it in quotes")
    if not written:
        raise WrittenError(f"this {what} is empty", "write what is said, or leave it out")
    if len(written) > LONGEST:
        raise WrittenError(f"a {what} of {len(written)} characters", f"write at most {LONGEST}")
    if not all(" " <= letter <= "~" or "\xa1" <= letter <= "\xff" for letter in written):
        raise WrittenError(
            f"{written!r} has characters that no instrument here sends or takes",
            "write printable ASCII or Latin-1; the end of a message is said by `terminator`",
        )
    return written


def _parts(text: str, allowed: Collection[str]) -> Iterator[str | Place]:
    """Literal texts and `{…}` in order."""
    at = 0
    for found in _PLACE.finditer(text):
        yield from _literal(text, text[at : found.start()])
        if found[1] not in allowed:
            known = ", ".join(f"{{{word}}}" for word in allowed) or "none"
            near = did_you_mean(found[1], allowed) if allowed else ""
            raise WrittenError(
                f"{found[0]!r} is no place that can be filled here", f"{near} known here: {known}".strip()
            )
        yield Place(found[1])
        at = found.end()
    yield from _literal(text, text[at:])


def _literal(text: str, piece: str) -> Iterator[str]:
    if "{" in piece or "}" in piece:
        raise WrittenError(
            f"{text!r} has a brace without its partner", "write a place as {value}, without other braces"
        )
    if piece:
        yield piece


def number_of(text: str) -> float:
    """A number as it was sent."""
    return float(text.replace(",", "."))


def is_as_sent(got: float, sent: str) -> bool:
    """Whether a number that came back is the one that was sent; it may lie an instrument's own steps from it."""
    decimals = len(sent.replace(",", ".").partition(".")[2])
    return math.isclose(got, number_of(sent), rel_tol=_STEP, abs_tol=0.5 * 10.0**-decimals)


def number_text(value: float, decimals: int, comma: bool) -> str:
    """A number as it is sent: plain digits, no exponent."""
    text = f"{value + 0.0:.{decimals}f}"  # never -0
    return text.replace(".", ",") if comma else text
