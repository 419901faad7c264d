"""A run as plain lines, for a pipe, a file and a terminal that can do no more: one where something changes."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from rigproof.run.opening import Reach
from rigproof.run.plan import Plan
from rigproof.run.progress import Reading, just_read
from rigproof.verdict.identified import NOT_NAMED, of_rig
from rigproof.verdict.record import Check, Verdict

from .outlet import Outlet, printable
from .screen import COLUMNS, check_lines, marks, verdict_lines

LONG_S = 50.0  # of the run's time: from here on a wait has a line of its own
EVERY_S = 60.0  # of the run's time: how often a wait has a line with readings
PATIENCE_S = 1.0  # of the real clock, with a terminal that takes nothing, before a question
FALLEN_TO = 0.5  # while a load comes down there is a line whenever it is below this share of the last one told


class Lines:
    """A listener. It wants to look once a minute, in a wait."""

    def __init__(self, outlet: Outlet) -> None:
        self._outlet = outlet
        self._doing = ""
        self._next_look_s = 0.0  # of what is left of the wait
        self._due = False
        self._told: dict[str, float] = {}  # load that was told last, by source

    @property
    def looks(self) -> bool:
        """In a long wait, once a minute."""
        return self._due and self._outlet.clear

    def begun(self, plan: Plan, reach: Reach, folder: Path) -> None:
        """What kind of run it is, and where its record will be."""
        for text in marks(reach.simulated, reach.replayed):
            self._line(text)
        self.cautions(plan, reach)
        for text in _of_what(plan, reach):
            self._line(textwrap.fill(text, COLUMNS, subsequent_indent="  ", break_on_hyphens=False))
        self._line(f"record: {folder}")

    def cautions(self, plan: Plan, reach: Reach) -> None:
        """What people must mind, where something is really loaded."""
        if not (reach.simulated or reach.replayed):
            for text in plan.cautions:
                self._line(textwrap.fill(f"caution: {text}", COLUMNS, subsequent_indent="  ", break_on_hyphens=False))

    def step(self, number: int, of: int, kind: str) -> None:
        """A heading; what was going on is over."""
        self._doing, self._due = "", False
        self._line("")
        self._line(f"{number}/{of} {kind}")

    def say(self, text: str) -> None:
        """A line."""
        self._doing, self._due = text, False
        self._line(f"    {text}")

    def waiting(self, text: str, left_s: float, now_s: float) -> None:  # noqa: ARG002  a line has no clock
        """A line where a long wait begins."""
        if text != self._doing:
            self._doing, self._due = text, False
            self._next_look_s = left_s - EVERY_S
            if left_s >= LONG_S:
                self._line(f"    {text}: {duration(left_s)}")
        elif 0 < left_s <= self._next_look_s:
            self._due, self._next_look_s = True, self._next_look_s - EVERY_S

    def reading(self, text: str, values: Mapping[str, Reading]) -> None:  # noqa: ARG002  the wait has said its name
        """What the channels read, in a long wait."""
        self._due = False
        left = duration(self._next_look_s + EVERY_S)
        shown = ", ".join(f"{name} {value.shown}" for name, value in just_read(values).items())
        self._line(f"    {self._doing}, {left} left: {shown}")

    def checks(self, checks: Sequence[Check]) -> None:
        """How many accept, and every one that does not."""
        for line in check_lines(checks):
            self._line(line)

    def alarm(self, text: str) -> None:
        """Lines nobody can overlook."""
        for line in ("", f"!!! {text}", ""):
            self._line(line)

    def lowering(self, source: str, load: Reading | None, text: str) -> None:
        """A line at first, and whenever the load has fallen much."""
        size = abs(load.value) if load and load.value is not None else None
        last = self._told.get(source)
        if last is None or (size is not None and size < FALLEN_TO * last):
            self._told[source] = size or 0.0
            self._line(f"    making {source} safe: {text}")

    def safe(self, source: str, load: Reading | None, text: str) -> None:  # noqa: ARG002  it is in the text
        """A line."""
        self._told.pop(source, None)
        self._line(f"    {source} safe: {text}")

    @contextmanager
    def aside(self) -> Iterator[None]:
        """Inside the `with` the terminal belongs to a question."""
        self._outlet.finish(PATIENCE_S)
        yield

    def verdict(self, verdict: Verdict, folder: Path, notes: Sequence[str]) -> None:
        """All of it, the verdict last."""
        for line in verdict_lines(verdict, folder, notes, seen_safe=True):
            self._line(line)

    def close(self) -> None:
        """Write what was kept, and let go."""
        try:
            self._outlet.finish()
        finally:
            self._outlet.close()

    def _line(self, text: str) -> None:
        self._outlet.write("".join(f"{printable(line)}\n" for line in text.split("\n")))


def _of_what(plan: Plan, reach: Reach) -> Iterator[str]:
    """What rig.yaml states of part, site and relief, and who takes the run; a live run without a name says so."""
    live = not (reach.simulated or reach.replayed)
    operator = reach.operator or (NOT_NAMED if live else "")
    yield from (f"{what}: {text}" for what, text in of_rig(plan.rig, (operator,)).lines())


def duration(seconds: float) -> str:
    """`45 s`, `9 min 12 s`, `1 h 20 min`."""
    whole = max(0, round(seconds))
    if whole < 60:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60} min"
