"""Reading: what was written comes back, what was changed is found and placed, what was torn is dropped and said."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.clock import WallClock
from rigproof.errors import JournalError
from rigproof.journal import Entry, JournalWriter, read_bytes, read_journal, verify
from rigproof.journal.entry import FORMAT, OWN_KEYS, link_of, seal

# A journal of the released format, byte by byte: a reader of any later version must still read it.
SAMPLE = (
    b'{"n":0,"t":0.0,"kind":"run","format":"rigproof: journal/1","link":"2b4f482e665bcad7"}\n'
    b'{"n":1,"t":1.5,"kind":"samples","t0":0.5,"dt":0.5,"values":{"hoop":[1.1e-06,null]},"link":"b30769310beed557"}\n'
    b'{"n":2,"t":2.0,"kind":"note","text":"350 \xce\xa9","link":"4bb97a518e014da2"}\n'
)
LINES = SAMPLE.splitlines(keepends=True)

texts = st.text(st.characters(), max_size=20)
values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | texts,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
    max_leaves=8,
)
events = st.tuples(texts, st.dictionaries(texts.filter(lambda key: key not in OWN_KEYS), values, max_size=4))


class StillClock(WallClock):
    """Gives the same bytes for the same events."""

    def now(self) -> float:
        return 0.0


def written(sequence: Sequence[tuple[str, dict[str, Any]]]) -> tuple[bytes, list[Entry]]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "journal.jsonl"
        with JournalWriter(path, StillClock()) as journal:
            entries = [journal.write(kind, **fields) for kind, fields in sequence]
        return path.read_bytes(), entries


def test_the_released_format_is_read() -> None:
    journal = read_bytes(SAMPLE)
    assert [(entry.n, entry.t, entry.kind) for entry in journal.entries] == [
        (0, 0.0, "run"),
        (1, 1.5, "samples"),
        (2, 2.0, "note"),
    ]
    assert journal.entries[1].data == {"t0": 0.5, "dt": 0.5, "values": {"hoop": [1.1e-06, None]}}
    assert journal.entries[2].data == {"text": "350 Ω"}
    assert (journal.sha256, journal.torn) == (hashlib.sha256(SAMPLE).hexdigest(), False)


@settings(max_examples=60)
@given(st.lists(events, max_size=6))
def test_any_sequence_of_events_comes_back(sequence: list[tuple[str, dict[str, Any]]]) -> None:
    data, entries = written(sequence)
    journal = read_bytes(data)
    assert list(journal.entries) == entries
    assert repr([(entry.kind, entry.data) for entry in entries]) == repr(sequence)  # 1, 1.0 and true stay apart
    assert not journal.torn


def found(data: bytes) -> bool:
    """Whether a change shows: by an error, or as a torn line behind an untouched beginning."""
    try:
        journal = read_bytes(data)
    except JournalError:
        return True
    return journal.torn and journal.entries == read_bytes(SAMPLE).entries[: len(journal.entries)]


def test_every_changed_byte_is_found() -> None:
    for place, byte in enumerate(SAMPLE):
        for other in {byte ^ 1, byte ^ 0x20, byte ^ 0x80, 0, ord("\n"), ord("0"), ord('"')} - {byte}:
            assert found(SAMPLE[:place] + bytes([other]) + SAMPLE[place + 1 :]), (place, other)


def test_every_byte_put_in_or_taken_out_is_found() -> None:
    for place in range(len(SAMPLE)):
        assert found(SAMPLE[:place] + SAMPLE[place + 1 :]), place
        for other in (ord(" "), ord("\n"), ord("0")):
            assert found(SAMPLE[:place] + bytes([other]) + SAMPLE[place:]), (place, other)


@settings(max_examples=60)
@given(st.lists(events, min_size=1, max_size=4), st.data())
def test_any_one_byte_changed_in_any_journal_is_found(
    sequence: list[tuple[str, dict[str, Any]]], draw: st.DataObject
) -> None:
    data, entries = written(sequence)
    place = draw.draw(st.integers(0, len(data) - 1))
    other = draw.draw(st.integers(0, 255).filter(lambda value: value != data[place]))
    changed = data[:place] + bytes([other]) + data[place + 1 :]
    try:
        journal = read_bytes(changed)
    except JournalError:
        return
    assert journal.torn
    assert list(journal.entries) == entries[: len(journal.entries)]
    assert len(journal.entries) < len(entries)


def test_any_truncation_gives_a_beginning_and_says_whether_a_line_was_torn() -> None:
    whole = read_bytes(SAMPLE).entries
    for length in range(len(SAMPLE)):
        journal = read_bytes(SAMPLE[:length])
        lines = SAMPLE[:length].count(b"\n")
        assert journal.entries == whole[:lines]
        assert journal.torn == (not SAMPLE[:length].endswith(b"\n") and length > 0)
        assert journal.sha256 == hashlib.sha256(b"".join(LINES[:lines])).hexdigest()


def test_the_line_at_fault_is_named(tmp_path: Path) -> None:
    path = tmp_path / "journal.jsonl"
    path.write_bytes(SAMPLE.replace(b"1.1e-06", b"1.2e-06"))
    with pytest.raises(JournalError, match=r"journal\.jsonl:2: its link does not chain it to line 1.*rigproof verify"):
        read_journal(path)


@pytest.mark.parametrize(
    ("data", "problems"),
    [
        (SAMPLE, []),
        (b"", []),
        (SAMPLE.replace(b"1.1e-06", b"1.2e-06"), ["line 2: its link"]),
        (SAMPLE.replace(b"run", b"fun").replace(b"350", b"120"), ["line 1: its link", "line 3: its link"]),
        (LINES[0] + LINES[2], ["line 2: its link"]),
        (LINES[1] + LINES[0] + LINES[2], ["line 1: its link", "line 2: its link", "line 3: its link"]),
        (LINES[0] + b"\n" + LINES[1] + LINES[2], ["line 2: does not end", "line 3: follows a line without"]),
        (SAMPLE + b'{"n":3,', ["line 4: torn (7 bytes"]),
        (SAMPLE + bytes(4096), ["line 4: torn (4096 bytes"]),
    ],
)
def test_verify_goes_on_past_a_bad_line(tmp_path: Path, data: bytes, problems: list[str]) -> None:
    path = tmp_path / "journal.jsonl"
    path.write_bytes(data)
    said = verify(path)
    assert len(said) == len(problems)
    assert all(line.startswith(start) for line, start in zip(said, problems, strict=True)), said


@pytest.mark.parametrize(
    "body",
    [
        b'{"n":1,"t":0.0,"kind":"a"}',
        b'{"n":0,"t":0.0}',
        b'{"n":0,"t":0.0,"kind":5}',
        b'{"n":0,"t":"0","kind":"a"}',
        b'{"n":0,"t":0.0,"kind":"a","x":NaN}',
        b'{"n":0,"t":0.0,"kind":"\xff"}',
        b"[" * 100_000 + b"}",
        b"[1,2]}",
        b"not json}",
    ],
)
def test_a_chained_line_that_is_no_entry_is_refused(body: bytes) -> None:
    """Whoever makes the chain anew can chain anything; the reader still takes entries only."""
    with pytest.raises(JournalError, match="journal:1: is chained, but"):
        read_bytes(seal(body, link_of(FORMAT, body)))


def test_a_journal_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match=r"journal=.*none\.jsonl: cannot be read \(No such file"):
        read_journal(tmp_path / "none.jsonl")
    with pytest.raises(JournalError, match=r"cannot be read \(Is a directory\)"):
        read_journal(tmp_path)
