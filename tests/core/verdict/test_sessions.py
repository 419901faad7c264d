"""Which entries of a journal belong together, and what its dates tell."""

from __future__ import annotations

from typing import Any

import pytest

from rigproof.journal import Entry
from rigproof.verdict.sessions import KILLED, last_session, resumptions, takings, told, uneven_dates


def entries(*written: tuple[Any, ...]) -> list[Entry]:
    """Entries as (kind, fields, seconds); the seconds go on by one where they are left out."""
    found: list[Entry] = []
    for n, (kind, data, *t) in enumerate(written):
        found.append(Entry(n, float(t[0] if t else n), kind, dict(data)))
    return found


def mark(step: int, taken: str) -> tuple[str, dict[str, object]]:
    return "step", {"step": step, "taken": taken}


def block(text: str) -> tuple[str, dict[str, object]]:
    return "samples", {"label": text, "tags": {}, "values": {}}


RESUMED = ("resumed", {"utc": "2026-11-26T09:00:00+00:00"})
CUT_TWICE = entries(
    mark(1, "begun"), block("a"), mark(1, "whole"), mark(2, "begun"), block("b"),
    RESUMED, block("zero after resuming"), mark(2, "begun"), block("c"), ("end", {"how": "stopped", "why": "x"}),
    RESUMED, mark(2, "begun"), block("d"), block("e"), mark(2, "whole"), mark(3, "begun"), block("f"),
)  # fmt: skip


def labels(record: Any) -> list[str]:
    return [entry.data["label"] for entry in record.entries if entry.kind == "samples"]


@pytest.mark.parametrize(
    ("step", "whole", "last", "earlier", "broken_off"),
    [
        (1, True, ["a"], [], 0),
        (2, True, ["d", "e"], [["b"], ["c"]], 2),
        (3, False, ["f"], [], 1),
        (4, False, [], [], 0),
    ],
)
def test_the_last_whole_taking_counts(
    step: int, whole: bool, last: list[str], earlier: list[list[str]], broken_off: int
) -> None:
    """No entry of another session, of another step, or from between two steps is in it."""
    found = takings(step, "x", CUT_TWICE)
    assert (found.whole, labels(found.record)) == (whole, last)
    assert [labels(record) for record in found.record.earlier] == earlier
    assert found.count == len(earlier) + bool(last)
    assert len(found.broken_off) == broken_off
    assert all(record.earlier == () for record in found.broken_off)


def test_a_whole_taking_outlives_one_that_was_cut_off_later() -> None:
    found = takings(1, "x", entries(mark(1, "begun"), block("a"), mark(1, "whole"), RESUMED, mark(1, "begun")))
    assert (found.whole, labels(found.record), found.record.earlier) == (True, ["a"], ())
    assert found.later == 1


def test_a_refused_step_was_not_begun() -> None:
    found = takings(1, "x", entries(mark(1, "not taken"), RESUMED, mark(1, "not taken")))
    assert (found.whole, found.count, found.broken_off) == (False, 0, ())
    assert found.record.entries[0].data["taken"] == "not taken"


def test_sessions_and_what_ended_them() -> None:
    safe = ("safe", {"confirmed": True})
    journal = entries(
        ("run", {}), RESUMED, safe, ("end", {"how": "suspended", "why": "until then: cure"}),
        ("resumed", {"utc": "2026-11-26T21:00:00+00:00"}), ("zero moved", {"strain": {"hoop": 1e-6}}),
    )  # fmt: skip
    first, second = resumptions(journal)
    assert (first.after, first.left_safe, first.zero_moved) == (KILLED, False, {})
    assert (second.after, second.left_safe, second.zero_moved) == (
        "suspended until then: cure",
        True,
        {"hoop": 1e-6},
    )
    assert [entry.kind for entry in last_session(journal)] == ["resumed", "zero moved"]
    assert told({"how": "tripped", "why": "overload"}) == "tripped: overload"


@pytest.mark.parametrize(
    ("dates", "words"),
    [
        ([("run", "08:00:00", 0), ("end", "08:10:00", 600)], ""),
        ([("run", "08:00:00", 0), ("end", "08:10:05", 600)], ""),
        ([("run", "08:00:00", 0), ("end", "07:10:00", 600)], "the date was set back by 3600 s between 2026"),
        ([("run", "08:00:00", 0), ("end", "08:20:00", 600)], "the date was set forward, or the machine slept,"),
        ([("run", "08:00:00", 0), ("resumed", "20:00:00", 600)], ""),  # a pause
        ([("run", "08:00:00", 0), ("resumed", "07:00:00", 600)], "the date was set back by 4200 s"),
        ([("run", "08:00:00", 0), ("end", "08:10:00", 600), ("resumed", "08:09:00", 600)], "the date was set back"),
    ],
)  # fmt: skip
def test_dates_that_do_not_go_on_evenly(dates: list[tuple[str, str, float]], words: str) -> None:
    found = uneven_dates(entries(*((kind, {"utc": f"2026-11-26T{at}+00:00"}, t) for kind, at, t in dates)))
    assert len(found) == bool(words)
    assert "; ".join(found).startswith(words)
