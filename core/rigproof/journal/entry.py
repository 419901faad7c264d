"""One line of a journal: what it holds, and the link that chains it to the line before."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rigproof.errors import JournalError

FORMAT = "rigproof: journal/1"  # stands in for the link before the first line, so that the chain names its format
OWN_KEYS = ("n", "t", "kind", "link")
BROKEN_OFF = "reading broken off"  # label of samples taken before another instrument failed: true, and not judged
RESUMED = "resumed"  # kind of the entry that begins every session of a run but its first

_LINK_LENGTH = 16  # hex digits
_LINK_KEY = b',"link":"'
_TAIL_LENGTH = len(_LINK_KEY) + _LINK_LENGTH + len(b'"}')


@dataclass(frozen=True, slots=True)
class Entry:
    """One line: number from 0, seconds on the run's clock since the journal began, kind, fields of that kind."""

    n: int
    t: float
    kind: str
    data: dict[str, Any]


def encode(n: int, t: float, kind: str, fields: Mapping[str, Any]) -> bytes:
    """The body of a line, without its link: compact JSON in UTF-8.

    Raises `JournalError` for a field that takes one of the journal's own keys, and for what JSON cannot hold.
    """
    if taken := [key for key in OWN_KEYS if key in fields]:
        raise JournalError(f"kind={kind}: field '{taken[0]}' is the journal's own key; give the field another name")
    try:
        text = _ENCODER.encode({"n": n, "t": t, "kind": kind, **fields})
    except (TypeError, ValueError, RecursionError) as error:
        raise JournalError(
            f"kind={kind}: {error}; a journal holds text, finite numbers, true, false, null, lists and mappings: "
            "write null where there is no number"
        ) from error
    # A reply from an instrument may hold bytes that are no UTF-8 (lone surrogates); their escapes are valid JSON.
    return text.encode("utf-8", "backslashreplace")


def _plain(value: object) -> object:
    """Numbers and arrays of numpy as Python's own."""
    if hasattr(value, "tolist"):
        return value.tolist()
    raise TypeError(f"a value of type {type(value).__name__} is no JSON")


_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":"), default=_plain)


def decode(body: bytes) -> Entry:
    """The entry of a body. Raises ValueError, KeyError, TypeError or RecursionError when it is none."""
    data = _DECODER.decode(body.decode("utf-8"))
    n, t, kind = data.pop("n"), data.pop("t"), data.pop("kind")
    if not isinstance(kind, str) or type(n) is not int or not isinstance(t, int | float):
        raise TypeError("n, t and kind are not a whole number, a number and a text")
    return Entry(n, float(t), kind, data)


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is no JSON")


_DECODER = json.JSONDecoder(parse_constant=_no_constant)


def link_of(previous: str, body: bytes) -> str:
    """The link of a line: 16 hex digits of the SHA-256 (FIPS 180-4) of the previous link and the line's body."""
    return hashlib.sha256(previous.encode("ascii") + body).hexdigest()[:_LINK_LENGTH]


def seal(body: bytes, link: str) -> bytes:
    """The whole line, newline included."""
    return body[:-1] + _LINK_KEY + link.encode("ascii") + b'"}\n'


def unseal(line: bytes) -> tuple[bytes, str] | None:
    """Body and link of a line without its newline; None when it does not end as a line must."""
    tail = line[-_TAIL_LENGTH:]
    link = tail[len(_LINK_KEY) : -2]
    if not tail.startswith(_LINK_KEY) or not tail.endswith(b'"}') or link.strip(b"0123456789abcdef"):
        return None
    return line[:-_TAIL_LENGTH] + b"}", link.decode("ascii")
