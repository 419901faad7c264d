"""What a run needs of whatever keeps its record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from rigproof.instruments import FloatArray
from rigproof.journal.entry import Entry


class Keeps(Protocol):
    """The journal on disk, or one in memory for a rehearsal; see `JournalWriter`."""

    def elapsed_s(self) -> float:
        """Seconds since the record began."""

    def place(self) -> int:
        """Where the next entry will stand; for `since`."""

    def since(self, place: int) -> Sequence[Entry]:
        """All entries from a place on."""

    def write(self, kind: str, /, **fields: Any) -> Entry:
        """Keep an event."""

    def samples(self, t0: Mapping[str, float], dt: float, values: Mapping[str, FloatArray], **fields: Any) -> Entry:
        """Keep a block of readings."""
