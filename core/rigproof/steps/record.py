"""What a step wrote into the journal, in the form `judge` reads it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from rigproof.errors import JournalError
from rigproof.instruments import FloatArray
from rigproof.journal import Entry


@dataclass(frozen=True)
class Block:
    """Readings of several channels taken for one purpose, raw and in base units; nan is overload or open circuit."""

    label: str
    t: float  # seconds since the run began
    values: dict[str, FloatArray]
    tags: dict[str, Any]

    def __getitem__(self, channel: str) -> FloatArray:
        try:
            return self.values[channel]
        except KeyError:
            raise JournalError(
                f"block {self.label!r} at t={self.t:g} s: no readings of channel {channel}; "
                f"it holds {', '.join(self.values)}"
            ) from None


@dataclass(frozen=True)
class StepRecord:
    """The journal entries of one step, in order."""

    step: int  # index in the procedure, from 1
    kind: str
    entries: tuple[Entry, ...]
    earlier: tuple[StepRecord, ...] = ()  # takings that were broken off, or suspended by the step itself, oldest first

    @property
    def begun(self) -> bool:
        """False where the step was refused, or the run never came to it."""
        return bool(self.entries) and self.entries[0].data.get("taken") == "begun"

    def blocks(self, label: str) -> list[Block]:
        """All blocks with this label, in order."""
        return [_block(entry) for entry in self._samples.get(label, ())]

    def all_blocks(self) -> Iterator[Block]:
        """All blocks of the step, in order."""
        return (_block(entry) for entry in self.entries if entry.kind == "samples")

    @cached_property
    def _samples(self) -> dict[str, list[Entry]]:
        """The entries with readings by label."""
        found: dict[str, list[Entry]] = {}
        for entry in self.entries:
            if entry.kind == "samples":
                found.setdefault(entry.data["label"], []).append(entry)
        return found

    def block(self, label: str) -> Block | None:
        """The last block with this label; None where the step was broken off before it."""
        found = self.blocks(label)
        return found[-1] if found else None

    def events(self, kind: str) -> Sequence[dict[str, Any]]:
        """The fields of all entries of one kind."""
        return [entry.data for entry in self.entries if entry.kind == kind]


def _block(entry: Entry) -> Block:
    columns = {name: _column(column) for name, column in entry.data["values"].items()}
    return Block(entry.data["label"], entry.t, columns, entry.data["tags"])


def _column(column: list[float | None]) -> FloatArray:
    return np.array(column, dtype=np.float64)  # numpy reads None as nan
