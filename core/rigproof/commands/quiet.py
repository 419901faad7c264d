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
from .outlet import Outlet
from .screen import verdict_line


class Quiet(Silent):
    """A listener; an ordinary run is one line."""

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

    def safe(self, source: str, text: str) -> None:
        """After an alarm, that it is down."""
        if self._alarmed:
            self._lines.safe(source, text)

    def aside(self) -> AbstractContextManager[None]:
        """Inside the `with` the terminal belongs to a question."""
        return self._lines.aside()

    def verdict(self, verdict: Verdict, folder: Path, notes: Sequence[str]) -> None:  # noqa: ARG002  one line
        """One line."""
        self._outlet.write(f"{verdict_line(verdict)}\n")

    def close(self) -> None:
        """Write what was kept, and let go."""
        self._lines.close()
