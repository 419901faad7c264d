"""A run that says only what must not be missed: cautions before it, alarms and how they ended, and the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager
from pathlib import Path

from rigproof.run.opening import Reach
from rigproof.run.plan import Plan
from rigproof.run.progress import Reading, Silent
from rigproof.verdict.record import Verdict

from .lines import Lines
from .outlet import Outlet, printable
from .screen import verdict_line, why_lines


class Quiet(Silent):
    """A listener; an ordinary run is two lines."""

    def __init__(self, outlet: Outlet) -> None:
        self._outlet = outlet
        self._lines = Lines(outlet)
        self._alarmed = False

    def begun(self, plan: Plan, reach: Reach, folder: Path) -> None:  # noqa: ARG002  see below
        """The cautions, where something is really loaded."""
        self._lines.cautions(plan, reach)

    def alarm(self, text: str) -> None:
        """From here on the person is told how it ends."""
        self._alarmed = True
        self._lines.alarm(text)

    def lowering(self, source: str, load: Reading | None, text: str) -> None:
        """After an alarm, that the load is coming down."""
        if self._alarmed:
            self._lines.lowering(source, load, text)

    def safe(self, source: str, load: Reading | None, text: str) -> None:
        """After an alarm, that it is down."""
        if self._alarmed:
            self._lines.safe(source, load, text)

    def aside(self) -> AbstractContextManager[None]:
        """Inside the `with` the terminal belongs to a question."""
        return self._lines.aside()

    def verdict(self, verdict: Verdict, folder: Path, notes: Sequence[str]) -> None:
        """Why it is not accepted, where the record is, what to do, and the verdict last."""
        why = [] if verdict.verdict == "accept" and len(verdict.why) == 1 else why_lines(verdict)
        for line in (*why, f"record: {folder}", *notes, verdict_line(verdict)):
            self._outlet.write(f"{printable(line)}\n")

    def close(self) -> None:
        """Write what was kept, and let go."""
        self._lines.close()
