"""Sessions and takings: how the entries of a run belong together that was cut off, or suspended, and resumed.

A session goes from the opening of the instruments to the safe end; a journal has one, and one more for each `resumed`.
A taking goes from a step's `begun` to its `whole`; a step that was cut off is begun again in the next session.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise
from typing import Any

from rigproof.journal import RESUMED, Entry
from rigproof.steps.record import StepRecord

from .record import ResumeRecord

SUSPENDED = "suspended"  # `how` of the end of a session that a step paused on purpose
UNEVEN_S, UNEVEN_SHARE = 5.0, 1e-3  # what a time service may correct slowly while a run goes on (reasoned, no source)
_SHOWN = "%Y-%m-%d %H:%M:%S"
FINISHED = "finished"  # `how` of the end of a session that came to the end of the procedure
UNASKED = "unasked"  # kind of an entry at the end: an answer, given beforehand, that no question called for
KILLED = "the journal has no end: the run was killed"


@dataclass(frozen=True)
class Takings:
    """The taking of a step that counts, with the earlier ones in its record, and whether it was gone through."""

    record: StepRecord
    whole: bool
    later: int = 0  # takings after it that came to no end

    @property
    def broken_off(self) -> tuple[StepRecord, ...]:
        """Its takings that came to no end, oldest first: the `earlier` ones of the next taking."""
        last = () if self.whole or not self.record.begun else (replace(self.record, earlier=()),)
        return (*self.record.earlier, *last)

    @property
    def count(self) -> int:
        """How often the step was begun."""
        return len(self.record.earlier) + self.record.begun


NEVER = Takings(StepRecord(0, "", ()), False)  # of a step that was not begun


def last_session(entries: Sequence[Entry]) -> Sequence[Entry]:
    """The entries of the last session."""
    return _sessions(entries)[-1]


def _sessions(entries: Sequence[Entry]) -> list[Sequence[Entry]]:
    starts = [0, *(i for i, entry in enumerate(entries) if entry.kind == RESUMED), len(entries)]
    return [entries[a:b] for a, b in pairwise(starts)]


def ending(session: Iterable[Entry]) -> dict[str, Any] | None:
    """How a session ended; None where it was killed."""
    found = [entry.data for entry in session if entry.kind == "end"]
    return found[-1] if found else None


def told(end: dict[str, Any] | None) -> str:
    """How a session ended, in words: `suspended until …`, `stopped: by …`, `tripped: …`."""
    if end is None:
        return KILLED
    why = str(end["why"]).removeprefix(f"{end['how']} ")  # no word twice
    return f"{end['how']}{' ' if end['how'] == SUSPENDED else ': '}{why}"


def resumptions(entries: Sequence[Entry]) -> tuple[ResumeRecord, ...]:
    """Every time the run was gone on with, and what had ended it before."""
    sessions = _sessions(entries)
    return tuple(
        ResumeRecord(
            utc=after[0].data["utc"],
            after=told(ending(before)),
            left_safe=_left_safe(before),
            zero_moved={
                name: strain for e in after if e.kind == "zero moved" for name, strain in e.data["strain"].items()
            },
        )
        for before, after in pairwise(sessions)
    )


def _left_safe(session: Sequence[Entry]) -> bool:
    """Whether every source was confirmed safe at the end of a session."""
    found = [entry.data["confirmed"] for entry in session if entry.kind == "safe"]
    return bool(found) and all(found)


def uneven_dates(entries: Sequence[Entry]) -> tuple[str, ...]:
    """Where the machine's date was set, against the seconds of the run's own clock, which nobody can set.

    Readings are judged by the latter alone; dates serve calibrations, pauses and people.
    """
    dated = [(datetime.fromisoformat(e.data["utc"]), e) for e in entries if e.kind in ("run", RESUMED, "end")]
    found = []
    for (before, one), (after, other) in pairwise(dated):
        passed = other.t - one.t
        moved = (after - before).total_seconds() - passed
        if other.kind == RESUMED:  # however long the pause was, it was one
            moved = min(moved, 0.0)
        if abs(moved) > UNEVEN_S + UNEVEN_SHARE * passed:
            how = "set back" if moved < 0 else "set forward, or the machine slept,"
            found.append(f"the date was {how} by {abs(moved):.0f} s between {before:{_SHOWN}} and {after:{_SHOWN}} UTC")
    return tuple(found)


def takings(number: int, kind: str, entries: Sequence[Entry]) -> Takings:
    """The last whole taking of a step, or its last one where none was whole; empty where it was not begun."""
    spans: list[tuple[StepRecord, bool]] = []
    begun: int | None = None
    for i, entry in enumerate(entries):
        mine = entry.kind == "step" and entry.data["step"] == number
        if begun is not None and (mine or entry.kind == RESUMED):
            whole = mine and entry.data["taken"] == "whole"
            spans.append((StepRecord(number, kind, tuple(entries[begun:i])), whole))
            begun = None
        if mine and entry.data["taken"] != "whole":
            begun = i
    if begun is not None:
        spans.append((StepRecord(number, kind, tuple(entries[begun:])), False))
    if not spans:
        return Takings(StepRecord(number, kind, ()), False)
    chosen = max((i for i, (_, whole) in enumerate(spans) if whole), default=len(spans) - 1)
    record, whole = spans[chosen]
    earlier = tuple(each for each, _ in spans[:chosen] if each.begun)
    return Takings(replace(record, earlier=earlier), whole, sum(each.begun for each, _ in spans[chosen + 1 :]))
