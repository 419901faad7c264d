"""The table of a run at one moment: what is being done, what follows, what the channels read and what they ought to.

It says everything in words and marks: no colour is used, and bold only repeats what stands there.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from math import floor, log10

from rich.cells import cell_len, set_cell_size
from rich.console import Console
from rich.text import Text

from rigproof.documents import Rig
from rigproof.quantities import kind_of, show, shown, unit
from rigproof.run.agenda import Agenda
from rigproof.run.progress import Reading

from .lines import duration
from .outlet import printable

DIGITS, MOST_PLACES = 4, 5  # significant digits of the largest reading seen, and places after the point
WORTH_SAYING_S = 2.0
NOW_S = 2.0  # a reading no older is one of now
WIDE, MIDDLE = 72, 50  # columns: everything; without ages; below, without what is expected
LEAST = 12  # columns for what is being done, beside its time
AIRY, FEWEST = 18, 10  # lines of a terminal: from here on with air between; below, only what is being done
GAP = "  "
RIGHT = {2, 4, 6}  # columns of numbers and ages
APART = "! reading and expected differ by more than U (thermal output not taken out)"
STOPS = "Ctrl-C ends the run: the load is brought down, and it is shown when it is."
STOPPING = "The safe end is under way; nothing cuts it short, a second Ctrl-C neither."


class Frame:
    """What the table is about."""

    def __init__(self, rig: Rig, agenda: Agenda, mark: str) -> None:
        self._rig = rig
        self._agenda = agenda
        self._mark = mark
        self._step = "before the first step"
        self._doing = "opening the instruments"
        self._alarm = ""
        self._now_s = 0.0
        self._largest: dict[str, float] = {}  # by channel and kind: the largest number shown
        self._known = True  # whether the agenda tells where the run stands
        self.left_s: float | None = None
        self.readings: dict[str, Reading] = {}

    def step(self, number: int, of: int, kind: str) -> None:
        """A step begins, with a table of its own."""
        self._step, self._doing, self.left_s = f"step {number} of {of}: {kind}", "", None
        self._agenda.step(number)
        self._known, self.readings = True, {}

    def doing(self, text: str, left_s: float | None, now_s: float | None = None) -> None:
        """What is being done; `left_s` is None where nobody has told how long it takes."""
        self._agenda.follow(text)
        self._known, self._doing, self.left_s = True, text, left_s
        self._now_s = max(self._now_s, now_s or 0.0)

    def alarm(self, text: str) -> None:
        """The run has ended; what is left to do is the safe end."""
        self._alarm = text
        self._doing, self.left_s = "every source was told to go to its safe state", None

    def lowering(self, source: str, load: Reading | None, text: str) -> None:
        """The load as it comes down."""
        self._lowered(f"making {source} safe: {text}", source, load)

    def safe(self, source: str, load: Reading | None, text: str) -> None:
        """The load is down; the agenda knows nothing of the way here, and is left out until it is met again."""
        self._lowered(f"{source} safe: {text}", source, load)
        self._known = False

    def _lowered(self, text: str, source: str, load: Reading | None) -> None:
        """What the channels read before is of no use any more."""
        self._doing, self.left_s = text, None
        self.readings = {} if load is None else {self._rig.sources[source].channel: load}
        self._now_s = max(self._now_s, load.at_s if load is not None else 0.0)

    # -- as lines --------------------------------------------------------------------------------------------------

    def head(self, width: int) -> list[Text]:
        """Where the run stands."""
        left = self.left_s if self.left_s is not None else self._agenda.takes_s
        times = [("step", self._agenda.step_left_s(left)), ("run", self._agenda.run_left_s(left))]
        ends = ", ".join(f"{what} about {_roughly(s)}" for what, s in times if s >= WORTH_SAYING_S)
        ends = f"left: {ends}" if ends else ""
        here = "  ".join(filter(None, (self._mark, self._step)))
        rows = [Text(here, "bold")]
        if not self._alarm and self._known and ends:
            wide = len(here) + len(ends) + 2 <= width
            rows = [Text(f"{here}{ends.rjust(width - len(here))}", "bold")] if wide else [*rows, Text(ends)]
        if self._alarm:
            return [*rows, Text(f"!!!   {printable(self._alarm)}", "bold"), Text(self._now(width))]
        following = [Text(f"next  {printable(self._agenda.next)}")] if self._known else []
        return [*rows, Text(self._now(width)), *following]

    def _now(self, width: int) -> str:
        """Where there is no room for all of it, the time stays."""
        takes_s, time = self._agenda.takes_s, ""
        if self.left_s is not None:
            time = f", {duration(self.left_s)} left"
        elif takes_s >= WORTH_SAYING_S and self._known and not self._alarm:
            time = f", takes about {_roughly(takes_s)}"
        text = f"now   {printable(self._doing) or '…'}"
        room = width - len(time)
        return _cut(text, room) + time if room >= LEAST else _cut(text, width)

    def foot(self) -> Text:
        """What one key does."""
        return Text(STOPPING if self._alarm else STOPS)

    def table(self, width: int, most: int) -> list[Text]:
        """At most so many channels, those that were read last, loads first, as in the rig; then what the mark means."""
        recent = sorted(self.readings, key=lambda name: (self.readings[name].apart, self.readings[name].at_s))[-most:]
        loads = [source.channel for source in self._rig.sources.values()]
        ordered = dict.fromkeys((*loads, *self._rig.channels))
        names = [name for name in ordered if name in recent] if most > 0 else []
        if not names:
            return []
        heads = ["", "channel", "reading", "", "expected", "", "read"][
            : 7 if width >= WIDE else 6 if width >= MIDDLE else 4
        ]
        rows = [self._cells(name)[: len(heads)] for name in names]
        widest = [max(map(cell_len, cells)) for cells in zip(heads, *rows, strict=True)]
        widest[0] = 1  # of the mark, which must move nothing when it comes
        room = width - sum(widest) + widest[1] - len(GAP) * (len(heads) - 1)
        widest[1] = max(1, min(widest[1], room))
        table = [GAP.join(map(_cell, range(len(heads)), cells, widest)).rstrip() for cells in (heads, *rows)]
        hidden = len(self.readings) - len(names)
        notes = [f"and {hidden} more, for which there is no room"] if hidden else []
        notes += [APART] if any(self.readings[name].apart for name in names) else []
        return [Text(row) for row in (*table, *notes)]

    def _cells(self, name: str) -> list[str]:
        reading = self.readings[name]
        expected, expanded = self._expected(name, reading)
        age = self._now_s - reading.at_s
        return [
            "!" if reading.apart else "",
            printable(name),
            reading.shown if reading.value is None else self._number(name, reading.value, reading),
            "" if reading.value is None else unit(reading.kind),
            expected,
            expanded,
            "now" if age < NOW_S else f"{duration(age)} ago",
        ]

    def _expected(self, name: str, reading: Reading) -> tuple[str, str]:
        if reading.expected is not None and reading.U is not None:
            difference = kind_of(reading.kind).difference
            expanded = show(reading.U, difference, 2).removesuffix(unit(difference)).strip()
            return self._number(name, reading.expected, reading), f"± {expanded}"
        return ("", "") if reading.target is None else (self._number(name, reading.target, reading), "target")

    def _number(self, name: str, value: float, reading: Reading) -> str:
        """As many places as give the channel's largest number four digits, so that a figure keeps its place.

        No more than one beyond those that U has.
        """
        number = float(shown(value, reading.kind))
        key = f"{name} {reading.kind}"
        others = (
            float(shown(other, reading.kind)) for other in (reading.expected, reading.target) if other is not None
        )
        largest = self._largest[key] = max(self._largest.get(key, 0.0), abs(number), *map(abs, others))
        places = DIGITS - 1 - floor(log10(largest)) if largest > 0 else 1
        if reading.U:
            places = min(places, 2 - floor(log10(float(shown(reading.U, kind_of(reading.kind).difference)))))
        places = min(MOST_PLACES, max(0, places))
        return f"{round(number, places) + 0.0:.{places}f}"  # + 0.0: no minus zero


def _cell(place: int, text: str, width: int) -> str:
    """Numbers to the right, and what is too wide cut."""
    text = _cut(text, width)
    return " " * (width - cell_len(text)) + text if place in RIGHT else set_cell_size(text, width)


def _cut(text: str, width: int) -> str:
    return text if cell_len(text) <= width else set_cell_size(text, width - 1) + "…"


def _roughly(seconds: float) -> str:
    """A time that nobody can tell to the second."""
    return duration(60 * round(seconds / 60) if seconds >= 120 else seconds)


def drawn(frame: Frame, size: os.terminal_size) -> list[str]:
    """The table as rows that fit the terminal, the last column left free: some terminals wrap there."""
    width = max(1, size.columns - 1)
    rule = Text("-" * width)
    head = frame.head(width)
    parts = [rule, *head]
    airy = size.lines >= AIRY
    if size.lines >= FEWEST:
        # beside the channels: rules, column heads, a note, the foot, and some of the lines that stand above
        table = frame.table(width, size.lines - len(head) - (11 if airy else 5))
        blank = [Text("")] if airy else []
        parts += [*blank, *table, *blank] if table else []
    parts += [frame.foot(), rule] if airy else []
    return _rows(parts, width, max(1, size.lines - 1))


def _rows(parts: Sequence[Text], width: int, most: int) -> list[str]:
    console = Console(
        width=width,
        height=most,
        force_terminal=True,
        color_system="standard",
        legacy_windows=False,
        highlight=False,
        markup=False,
        emoji=False,
    )
    with console.capture() as captured:
        for part in parts:
            console.print(part, no_wrap=True, overflow="ellipsis", crop=True)
    return captured.get().splitlines()[:most]
