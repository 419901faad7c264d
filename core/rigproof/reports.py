"""What a report writer is: a consumer of the verdict, never a second judge."""

from __future__ import annotations

from abc import ABC, abstractmethod
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

if TYPE_CHECKING:
    from rigproof.verdict.record import Verdict


class ReportWriter(ABC):
    """Turns a verdict into one file."""

    kind: ClassVar[str]  # a word for the list of plugins, e.g. "junit"
    filename: ClassVar[str]  # the file it writes, e.g. "junit.xml"

    @abstractmethod
    def write(self, verdict: Verdict, folder: Path) -> None:
        """Write `folder / filename`. The journal, if wanted, is `folder / "journal.jsonl"`."""
