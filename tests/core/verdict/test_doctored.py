"""Entries that no run wrote: a journal comes from a disk, and whoever judges it must read why it is none."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

import pytest

from rigproof.errors import DocumentError, JournalError
from rigproof.journal import Entry, Journal
from rigproof.plugins import Registry
from rigproof.verdict.judging import judge
from rigproof.verdict.record import Verdict

Entries = Sequence[Entry]
Judged = Callable[[Iterable[Entry]], Verdict]

JUNK: tuple[Any, ...] = (None, -1, 1.5, "x", "", [], ["x"], {}, {"x": 1}, True)


def paths(data: dict[str, Any]) -> list[tuple[str, ...]]:
    """Every key of an entry, and those one level below."""
    found: list[tuple[str, ...]] = []
    for key, value in data.items():
        found.append((key,))
        if isinstance(value, dict):
            found += [(key, inner) for inner in value]
    return found


def doctored(entry: Entry, path: tuple[str, ...], junk: Any) -> Entry:
    """An entry in which one value is replaced; Ellipsis takes it out."""
    data = {key: dict(value) if isinstance(value, dict) else value for key, value in entry.data.items()}
    place = data if len(path) == 1 else data[path[0]]
    if junk is ...:
        del place[path[-1]]
    else:
        place[path[-1]] = junk
    return replace(entry, data=data)


SORTS = [
    *("run", "instrument", "step", "insulation", "command", "safe", "end"),
    *("resistance", "start", "closed", "level", "stage", "hold", "hold start, temperature"),
]


@pytest.mark.parametrize("sort", SORTS)
def test_made_up_entries_give_a_verdict_or_a_plain_error(sound: Entries, registry: Registry, sort: str) -> None:
    """Each field of each sort of entry missing, or of another type: never a traceback."""
    short = tuple(
        e
        for e in sound
        if e.kind != "step" or e.data["step"] < 4  # the later steps are not judged: judging them takes longest
    )
    if sort in {"level", "stage", "hold", "hold start, temperature"}:
        short = tuple(sound)
    index = next(i for i, e in enumerate(short) if sort in (e.kind, e.data.get("label")))
    broken = []
    for number, path in enumerate(paths(short[index].data)):
        for junk in (..., JUNK[number % len(JUNK)], JUNK[(number + 3) % len(JUNK)]):
            entries = (*short[:index], doctored(short[index], path, junk), *short[index + 1 :])
            try:
                judge(Journal(entries, "", False, ""), registry)
            except (JournalError, DocumentError):
                continue
            except Exception as error:
                broken.append(f"{'.'.join(path)} = {junk!r}: {type(error).__name__}: {error}")
    assert not broken


@pytest.mark.parametrize(
    ("kind", "field", "value"),
    [
        ("run", "utc", "yesterday"),
        ("run", "utc", None),
        ("run", "utc", 5),
        ("run", "simulated", None),
        ("run", "simulated", "no"),
        ("run", "simulated", {}),
        ("run", "replayed", "no"),
        ("instrument", "calibration_due", "some day"),
        ("instrument", "firmware", None),
        ("end", "utc", 5),
        ("end", "utc", None),
    ],
)
def test_made_up_entries_in_a_run_that_would_be_accepted(
    sound: Entries, judged: Judged, kind: str, field: str, value: object
) -> None:
    first = next(entry for entry in sound if entry.kind == kind)
    with pytest.raises(JournalError):
        judged(replace(e, data={**e.data, field: value}) if e is first else e for e in sound)


@pytest.mark.parametrize("entries", [[], ["end"], ["instrument", "end"]])
def test_a_journal_that_does_not_begin_with_a_run_is_none(sound: Entries, judged: Judged, entries: list[str]) -> None:
    with pytest.raises(JournalError, match="does not begin with a run"):
        judged(entry for entry in sound if entry.kind in entries)
