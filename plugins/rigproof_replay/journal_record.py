"""A journal of ours as a record: its blocks of readings, and what else happened, each with its time and order."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from rigproof.documents import Rig, load_rig
from rigproof.errors import DocumentError, Fault, RigproofError
from rigproof.instruments import FloatArray
from rigproof.journal import BROKEN_OFF, RESUMED, Entry, read_journal, verify
from rigproof.replaying import Recorded

from .lines import looked_at, refused

SLACK_S = 2e-6  # times stand there to the microsecond, and two of them are compared
SAFE = ("safe at the start", "safe", "safe after the test")  # each with a reading of every source's load


@dataclass(frozen=True)
class Block:
    """Readings that were taken together."""

    n: int  # number of the entry
    t: float  # when all of it was read, seconds since the run began
    t0: dict[str, float]  # when the first reading of each channel was taken
    dt: float
    values: dict[str, FloatArray]

    def start(self, channels: tuple[str, ...]) -> float:
        """When the first of these channels was read."""
        return min(self.t0[name] for name in channels)

    def end(self, channels: tuple[str, ...]) -> float:
        """When the instrument that gave these channels was done: the next began, or the block was whole."""
        last = max(self.t0[name] for name in channels)
        return min((t0 for t0 in self.t0.values() if t0 > last), default=self.t)

    def holds(self, channels: tuple[str, ...], count: int, interval_s: float) -> bool:
        """True where the channels were read so often, so fast; one reading may be the first of many."""
        counts = [len(self.values.get(name, ())) for name in channels]
        if count == 1:
            return min(counts) > 0
        return set(counts) == {count} and abs(self.dt - interval_s) <= SLACK_S


@dataclass(frozen=True)
class JournalRecord:
    """What a journal tells of its run."""

    rig: Rig
    recorded: Recorded
    blocks: tuple[Block, ...]
    events: tuple[Entry, ...]  # everything else, in order
    sha256: str

    def next_block(self, now: float, channels: tuple[str, ...], count: int, interval_s: float) -> Block | None:
        """The first block from `now` (seconds since the run began) on that answers a reading of these channels."""
        first = bisect_left(self.blocks, now - SLACK_S, key=lambda block: block.t)
        for block in islice(self.blocks, first, None):
            if block.holds(channels, count, interval_s) and block.start(channels) >= now - SLACK_S:
                return block
        return None

    def next_event(self, now: float, kinds: tuple[str, ...], **fields: Any) -> Entry | None:
        """The first event of a kind from `now` on that has these fields."""
        first = bisect_left(self.events, now - SLACK_S, key=lambda entry: entry.t)
        for entry in islice(self.events, first, None):
            if entry.kind in kinds and all(entry.data.get(name) == value for name, value in fields.items()):
                return entry
        return None


def read_journal_record(path: Path) -> JournalRecord:
    """Read a journal, its chain verified first. Raises `DocumentError` with every line that does not hold."""
    looked_at(path, "utf-8")
    stamp = path.stat()
    return _read(path, stamp.st_mtime_ns, stamp.st_size)


@lru_cache(maxsize=2)  # all instruments of a rig read one journal
def _read(path: Path, _changed_ns: int, _size: int) -> JournalRecord:
    problems = [problem.removeprefix("line ").partition(": ") for problem in verify(path)]
    if problems:
        remedy = "take an untouched copy"
        raise DocumentError([Fault(str(path), int(line), 1, "journal", said, remedy) for line, _, said in problems])
    journal = read_journal(path)
    if any(entry.kind == RESUMED for entry in journal.entries):
        said = "was resumed, so that steps stand in it that were broken off and begun again: no one course of time"
        raise refused(path, said, "replay the journal of a run in one piece")
    try:
        head = journal.entries[0]
        rig = load_rig(text=head.data["rig"]["text"], name=f"{path}: rig.yaml")
        began = datetime.fromisoformat(head.data["utc"]).astimezone(UTC)
        recorded = Recorded(began, bool(head.data["simulated"]))
        blocks = tuple(_blocks(journal.entries, rig))
    except RigproofError:
        raise
    except Exception as error:  # the file may be anybody's: chained, and yet no record of a run
        said = f"is not as a run writes it ({type(error).__name__}: {error})"
        raise refused(path, said, "give the journal.jsonl that `rigproof run` wrote") from None
    events = tuple(entry for entry in journal.entries if entry.kind != "samples")
    return JournalRecord(rig, recorded, blocks, events, journal.sha256)


def _blocks(entries: tuple[Entry, ...], rig: Rig) -> Iterator[Block]:
    for entry in entries:
        data = entry.data
        if entry.kind == "samples" and data["label"] != BROKEN_OFF:
            values = {name: np.array(column, dtype=np.float64) for name, column in data["values"].items()}
            yield Block(entry.n, entry.t, data["t0"], data["dt"], values)
        elif entry.kind in SAFE:
            channel = rig.sources[data["source"]].channel
            yield Block(
                entry.n, entry.t, {channel: entry.t}, 0.0, {channel: np.array([data["load"]], dtype=np.float64)}
            )
