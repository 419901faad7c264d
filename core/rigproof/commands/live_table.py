"""A run at a terminal: lines as everywhere, and below them a table that is drawn over again.

The cursor is never hidden, no other screen is taken and no key is bound, so that whatever ends the program, even
SIGKILL, leaves a terminal as it was. Nothing here waits for the terminal, see `Outlet`.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from rich.console import Console
from rich.text import Text

from rigproof.clock import WallClock
from rigproof.run.agenda import Agenda
from rigproof.run.opening import Reach
from rigproof.run.plan import Plan
from rigproof.run.progress import Reading
from rigproof.verdict.record import Verdict

from .cadence import Cadence
from .frame import Frame, drawn
from .lines import PATIENCE_S, Lines
from .outlet import Outlet, printable

AT_ONCE, PER_S = 2, 8.0  # never more than ten frames in a second, each of which takes a run about 1 ms
LASTS_S = 1.0  # of the real clock: what takes so long is drawn at once, for nothing may follow that would draw it
NO_SIZE = os.terminal_size((80, 24))


class LiveTable(Lines):
    """A listener. Lines wait for the next frame, at most for a moment; alarms wait for nothing."""

    def __init__(self, outlet: Outlet, terminal: int) -> None:
        super().__init__(outlet)
        self._terminal = terminal
        self._pace = Cadence(PER_S, AT_ONCE)
        self._above: list[str] = []  # lines that no frame has carried yet
        self._rows = 0  # of the table as it stands on the screen
        self._size = NO_SIZE
        self._frame: Frame | None = None
        self._paused = self._gone = False
        self._real = False

    @property
    def looks(self) -> bool:
        """As often as a frame may be drawn; on the real clock looks are far between, and each is worth it."""
        return not self._paused and (self._real or self._pace.ready)

    def begun(self, plan: Plan, reach: Reach, folder: Path) -> None:
        """The table begins."""
        super().begun(plan, reach, folder)
        self._real = isinstance(reach.clock, WallClock)
        self._frame = Frame(
            plan.rig, Agenda(plan), "SIMULATED" if reach.simulated else "REPLAYED" if reach.replayed else ""
        )
        self._draw()

    def step(self, number: int, of: int, kind: str) -> None:
        """A heading, and a table of its own."""
        super().step(number, of, kind)
        if self._frame:
            self._frame.step(number, of, kind)
        self._draw()

    def say(self, text: str) -> None:
        """A line, and what is being done."""
        super().say(text)
        if self._frame:
            self._frame.doing(text, None)
        self._draw()

    def waiting(self, text: str, left_s: float, now_s: float) -> None:
        """The time that is left."""
        begins = text != self._doing or (self._frame is not None and self._frame.left_s is None)
        self._doing = text
        if self._frame:
            self._frame.doing(text, left_s, now_s)
        self._draw(at_once=begins and self._real and left_s >= LASTS_S)

    def reading(self, text: str, values: Mapping[str, Reading]) -> None:  # noqa: ARG002  it has been said
        """Rows; what is told next draws them."""
        if self._frame:
            self._frame.readings.update(values)

    def alarm(self, text: str) -> None:
        """Lines, and the last thing the table was about has ended."""
        super().alarm(text)
        if self._frame:
            self._frame.alarm(text)
        self._draw(at_once=True)

    def lowering(self, source: str, load: Reading | None, text: str) -> None:
        """The load as it comes down."""
        super().lowering(source, load, text)
        if self._frame:
            self._frame.lowering(source, load, text)
        self._draw()

    def safe(self, source: str, load: Reading | None, text: str) -> None:
        """A line, and that it is so."""
        super().safe(source, load, text)
        if self._frame:
            self._frame.safe(source, load, text)
        self._draw(at_once=True)

    @contextmanager
    def aside(self) -> Iterator[None]:
        """Inside the `with` the terminal belongs to a question; the table comes back with the next thing that happens.

        The table is taken off and not only left: who reads a meter should not have the expected value before them.
        """
        self._take_off(PATIENCE_S)
        self._paused = True
        try:
            yield
        except BaseException:
            with suppress(OSError):
                self._outlet.write("\r\n")  # what was typed behind the prompt is left there
            raise
        finally:
            self._paused = False

    def verdict(self, verdict: Verdict, folder: Path, notes: Sequence[str]) -> None:
        """All of it, in place of the table."""
        super().verdict(verdict, folder, notes)
        self._take_off()

    def close(self) -> None:
        """The lines that are left; the table goes."""
        self._take_off()
        self._outlet.close()

    def _line(self, text: str) -> None:
        self._above += [printable(line) for line in text.split("\n")]

    def _draw(self, at_once: bool = False) -> None:
        """A frame, where it is time for one and the last was taken whole."""
        if not self._paused and (at_once or self._pace.ready):
            self._pace.take()
            self._frame_of(self._table())

    def _table(self) -> list[str]:
        """Its rows. A table that cannot be drawn ends no run: the lines go on without it, and one says so."""
        if self._frame is None:
            return []
        try:
            return drawn(self._frame, self._look_at_size())
        except Exception as error:
            self._frame = None
            self._line(f"no table from here on, it cannot be drawn: {type(error).__name__}: {error}")
            return []

    def _look_at_size(self) -> os.terminal_size:
        try:
            size = os.get_terminal_size(self._terminal)
        except OSError:
            return NO_SIZE
        return size if size.columns and size.lines else NO_SIZE

    def _take_off(self, patience_s: float | None = None) -> None:
        """The table goes, and all lines are out."""
        self._finish(patience_s)
        self._frame_of([])
        self._finish(patience_s)

    def _finish(self, patience_s: float | None) -> None:
        try:
            self._outlet.finish(patience_s)
        except OSError:
            self._gone = True

    def _frame_of(self, table: list[str]) -> None:
        """Lines that are new, then the table, over the one before, in one piece."""
        if self._gone or not (self._rows or self._above or table):
            return
        try:
            if not self._outlet.clear:
                return
            size = self._look_at_size()
            up = f"\033[{self._rows}A" if self._rows else ""
            above, self._above, self._rows = self._above, [], len(table)
            lines = [*(row for line in above for row in wrapped(line, size.columns)), *table]
            self._outlet.write("".join(["\r", up, *(f"{line}\033[K\r\n" for line in lines), "\033[J"]))
        except OSError:  # the terminal has gone; the signal that says so ends the run, unless it is ignored (nohup)
            self._gone = True


def wrapped(line: str, columns: int) -> list[str]:
    """A line in rows of the terminal's own width, further ones indented as the first, if there is room."""
    indent = min(len(line) - len(line.lstrip()), columns // 2)
    console = Console(width=max(8, columns - indent), file=None)
    rows = Text(line.strip()).wrap(console, max(8, columns - indent), no_wrap=False)
    return [" " * indent + row.plain.rstrip() for row in rows] or [""]
