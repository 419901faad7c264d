"""What a replayed instrument is: one whose readings come from a record, and not from the part as it is now."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

REPLAYED_FIRMWARE = (
    "replayed"  # what every replayed instrument says when opened, so that no run takes it for a live one
)


@dataclass(frozen=True)
class Recorded:
    """What a record says of itself."""

    began: datetime | None = None  # date and time (UTC) of its zero; None where it does not tell
    simulated: bool = False  # it was taken on a simulated rig


class Replays(ABC):
    """A driver that reads a record. Its identity has the firmware `REPLAYED_FIRMWARE`."""

    @abstractmethod
    def problems(self) -> Sequence[tuple[tuple[str | int, ...], str, str]]:
        """What in the settings does not fit the channels: (keys below `settings`, what is wrong, remedy)."""

    @abstractmethod
    def read_record(self) -> Recorded:
        """Read the whole record and check it. Raises `DocumentError` with every fault found, each at its place."""
