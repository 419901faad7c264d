"""Reading a journal back: every line is checked against the chain before it is believed."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from rigproof.errors import JournalError
from rigproof.journal.entry import FORMAT, Entry, decode, link_of, unseal


@dataclass(frozen=True, slots=True)
class Journal:
    """The whole lines of a journal."""

    entries: tuple[Entry, ...]
    sha256: str  # of the bytes up to the end of the last whole line
    torn: bool  # a last line without its end was there, and was dropped
    link: str  # of the last whole line; the next line would be chained to it


class _Line(NamedTuple):
    number: int  # from 1
    entry: Entry | None
    link: str | None  # as stored; None: there is none to read
    problem: str  # "" when the line holds


def read_journal(path: Path) -> Journal:
    """Read and verify a journal. Raises `JournalError`, naming the line, at the first one that does not hold."""
    return read_bytes(_bytes_of(path), str(path))


def read_bytes(data: bytes, name: str = "journal") -> Journal:
    """The same from the bytes of a journal; `name` stands in messages."""
    whole, rest = _split(data)
    entries, link = [], FORMAT
    for line in _lines(whole):
        if line.problem or line.entry is None or line.link is None:
            raise JournalError(
                f"{name}:{line.number}: {line.problem}; nothing from this line on can be believed: "
                "take an untouched copy, `rigproof verify` names every such line"
            )
        entries.append(line.entry)
        link = line.link
    return Journal(tuple(entries), hashlib.sha256(whole).hexdigest(), bool(rest), link)


def verify(path: Path) -> tuple[str, ...]:
    """Everything wrong with a journal, in words, one line each; empty when it holds.

    Goes on past a bad line with the link stored in it, so that a changed line does not blame those after it.
    """
    whole, rest = _split(_bytes_of(path))
    lines = list(_lines(whole))
    problems = [f"line {line.number}: {line.problem}" for line in lines if line.problem]
    if rest:
        problems.append(f"line {len(lines) + 1}: torn ({len(rest)} bytes without an end of line); it does not count")
    return tuple(problems)


def _bytes_of(path: Path) -> bytes:
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise JournalError(f"journal={path}: cannot be read ({error.strerror}); give the path of a journal") from error


def _split(data: bytes) -> tuple[bytes, bytes]:
    """The whole lines, and what a broken-off writer left of one more."""
    end = data.rfind(b"\n") + 1
    return data[:end], data[end:]


def _lines(whole: bytes) -> Iterator[_Line]:
    previous: str | None = FORMAT
    due: int | None = 0  # the entry's number; None behind a line that could not be read
    start = 0
    for number in range(1, whole.count(b"\n") + 1):
        end = whole.index(b"\n", start)
        line = _check(whole[start:end], number, previous, due)
        yield line
        previous, due, start = line.link, line.entry.n + 1 if line.entry else None, end + 1


def _check(line: bytes, number: int, previous: str | None, due: int | None) -> _Line:
    unsealed = unseal(line)
    if unsealed is None:
        return _Line(number, None, None, "does not end in a link, so it was changed or is no line of a journal")
    body, link = unsealed
    if previous is None:
        return _Line(number, None, link, "follows a line without a link, so nothing proves it")
    if link != link_of(previous, body):
        where = f"to line {number - 1}" if number > 1 else "to the format of journals"
        return _Line(number, None, link, f"its link does not chain it {where}: it was changed, or lines are gone")
    try:
        entry = decode(body)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        return _Line(number, None, link, f"is chained, but is no entry ({type(error).__name__}: {error})")
    if due is not None and entry.n != due:
        return _Line(number, None, link, f"is chained, but n={entry.n} stands where {due} is due")
    return _Line(number, entry, link, "")
