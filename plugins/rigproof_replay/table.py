"""A recorded table read whole: its times and the columns that are wanted, with every fault at file:line:column.

The file is streamed line by line; only the wanted columns are kept, as 8 bytes a number.
"""

from __future__ import annotations

import csv
from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from rigproof.errors import DocumentError, Fault
from rigproof.instruments import FloatArray
from rigproof.quantities import WrittenError, did_you_mean, show

from .cells import Numbers
from .lines import LineError, lines_of, looked_at, refused
from .settings import CODECS, DELIMITERS, TableSettings
from .times import Times

MOST_FAULTS = 20  # of one file; a wrong decimal mark is on every line of it
MOST_ROWS = 5_000_000


@dataclass(frozen=True)
class Table:
    """What was recorded: `times` in seconds from the run's zero, rising; nan where a reading is missing."""

    times: FloatArray
    columns: dict[str, FloatArray]  # by name, in the units of the file
    began: datetime | None  # the run's zero as date and time (UTC); None where the record has elapsed time
    sha256: str


def read_table(path: Path, settings: TableSettings, wanted: Sequence[str]) -> Table:
    """Read a table. Raises `DocumentError` with its faults, the first twenty of them."""
    digest = looked_at(path, settings.encoding)
    reading = _Reading(path, settings, tuple(dict.fromkeys(wanted)))
    try:
        reading.take()
    except _Enough:
        said = f"more than {MOST_FAULTS} faults; the rest of the file was not looked at"
        reading.faults.append(Fault(str(path), 0, 0, "record", said, "mend these first; is it the right file?"))
    if reading.faults:
        raise DocumentError(reading.faults)
    return reading.table(digest)


class _Enough(Exception):
    """So many faults that nobody wants to see more."""


class _Reading:
    """One pass over a file."""

    def __init__(self, path: Path, settings: TableSettings, wanted: tuple[str, ...]) -> None:
        self._path, self._settings, self._wanted = path, settings, wanted
        self._longest_s = settings.longest_gap.value
        self._delimiter = DELIMITERS[settings.delimiter]
        self._numbers = Numbers(settings.decimal, settings.missing)
        time = settings.time
        self._clock = Times(time.form, time.unit, time.zone, time.date, self._numbers.plain)
        self._zero_s: float | None = None  # the run's zero, counted as the rows are; known from the first row on
        self._times = array("d")
        self._values = {name: array("d") for name in wanted}
        self._last: tuple[float, str] | None = None  # time of the row before, also of a faulty one, and its text
        self._line, self._text = 0, ""
        self.faults: list[Fault] = []

    def take(self) -> None:
        """Read all rows."""
        rows = self._rows()
        try:
            header = next((cells for cells in rows if self._line == self._settings.header_row), None)
            if header is None:
                raise refused(
                    self._path, f"has no row {self._settings.header_row} for a header", "correct `header row`"
                )
            names = [name.strip() for name in header]
            places = self._places(names)
            if places is None:
                return
            first = self._settings.first_row or self._settings.header_row + 1
            for cells in rows:
                if self._line >= first and cells:
                    self._row(cells, len(names), places)
        except LineError as error:
            self._line, self._text = error.line, ""
            self._fault(0, "line", error.message, error.remedy)
        if not self._times and not self.faults:
            raise refused(self._path, "has a header and no readings", "is this the right file? Was it copied whole?")

    def table(self, digest: str) -> Table:
        """What was read, counted from the run's zero."""
        assert self._zero_s is not None, "there is a row"
        if not self._times[0] - self._longest_s <= self._zero_s <= self._times[-1]:
            said = f"`starts at: {self._settings.starts_at}` lies outside the record"
            raise refused(self._path, said, "write a time between its first row and its last")
        origin = self._clock.origin
        began = None if origin is None else (origin + timedelta(seconds=self._zero_s)).astimezone(UTC)
        columns = {name: np.frombuffer(values, dtype=np.float64) for name, values in self._values.items()}
        return Table(np.frombuffer(self._times, dtype=np.float64) - self._zero_s, columns, began, digest)

    def _rows(self) -> Iterator[list[str]]:
        """Cells of one row after the other; `_line` and `_text` say which. A quoted cell may not run over lines."""
        rows = csv.reader(self._remembered(), delimiter=self._delimiter, skipinitialspace=True, strict=True)
        while True:
            due = self._line + 1
            try:
                cells = next(rows, None)
            except csv.Error as error:
                raise LineError(due, f"is no row of a table ({error})", "look for a quote that is not closed") from None
            if cells is None:
                return
            if self._line != due:
                raise LineError(due, "has a quote that is not closed on its line", "close it, or take it out")
            yield cells

    def _remembered(self) -> Iterator[str]:
        for text in lines_of(self._path, CODECS[self._settings.encoding]):
            self._line, self._text = self._line + 1, text
            yield text

    def _places(self, names: Sequence[str]) -> dict[str, int] | None:
        """Where the wanted columns stand; None where one of them cannot be found."""
        for name in dict.fromkeys((self._settings.time.column, *self._wanted)):
            if (count := names.count(name)) == 0:
                said = f"the header names no column {name!r}"
                if len(names) == 1:
                    self._fault(0, "header", f"{said}, and one column only", "is `delimiter` right?")
                    return None
                self._fault(0, "header", said, did_you_mean(name, [found for found in names if found]))
            elif count > 1:
                self._fault(
                    names.index(name), "header", f"{name!r} stands there {count} times", "give each its own name"
                )
        return None if self.faults else {name: names.index(name) for name in names if name}

    def _row(self, cells: list[str], width: int, places: dict[str, int]) -> None:
        if len(cells) != width and not (len(cells) == width + 1 and not cells[-1].strip()):
            self._wrong_width(cells, width)
            return
        before = len(self.faults)
        at = self._time(cells, places[self._settings.time.column])
        numbers = [self._number(cells, places[name], name) for name in self._wanted]
        if len(self.faults) > before or at is None:
            return
        if len(self._times) == MOST_ROWS:
            raise LineError(
                self._line, f"is behind {MOST_ROWS:,} rows, and no more are read", "cut out the run's hours"
            )
        self._times.append(at)
        for name, number in zip(self._wanted, numbers, strict=True):
            self._values[name].append(number)

    def _wrong_width(self, cells: Sequence[str], width: int) -> None:
        said = f"{len(cells)} columns stand here, and the header has {width}"
        remedy = "complete the line, or take it out"
        if len(cells) > width and self._delimiter == ",":
            remedy = "take out what is too many; where decimal commas split numbers, export with another delimiter"
        self._fault(min(len(cells), width) - 1, "row", said, remedy)

    def _time(self, cells: Sequence[str], place: int) -> float | None:
        """Seconds of the row; None where it has a fault."""
        text, last = cells[place].strip(), self._last
        where = f"column {self._settings.time.column!r}"
        try:
            at = self._clock.seconds(text, last[0] if last else None)
            if self._zero_s is None:
                self._zero_s = self._zero(at)
        except WrittenError as error:
            self._fault(place, where, error.message, error.remedy)
            return None
        self._last = at, text
        if last is not None and at <= last[0]:
            if at == last[0]:
                self._fault(place, where, f"{text!r} is the time of the row before", "keep one row for each time")
            else:
                self._fault(place, where, f"{text!r} is before {last[1]!r}, the row before", "sort the rows by time")
        elif last is not None and at - last[0] > self._longest_s and at > self._zero_s:
            gap, allowed = show(at - last[0], "time"), self._settings.longest_gap.text
            said = f"{gap} lie between {last[1]!r} and {text!r}, and the longest gap allowed is {allowed}"
            self._fault(
                place,
                where,
                said,
                "cut the record to the run, sort a row that stands too early, or allow longer gaps if nothing changed",
            )
        return at

    def _zero(self, first: float) -> float:
        """The run's zero in the count of the rows."""
        zero = self._settings.zero()
        if zero is None:
            return first
        if isinstance(zero, datetime):
            assert self._clock.origin is not None, "a row was read"
            return (zero - self._clock.origin).total_seconds()
        return zero.value

    def _number(self, cells: Sequence[str], place: int, name: str) -> float:
        try:
            return self._numbers.read(cells[place])
        except WrittenError as error:
            self._fault(place, f"column {name!r}", error.message, f"{error.remedy}{self._of_units()}")
            return 0.0

    def _of_units(self) -> str:
        """What helps where a row behind the header is none of the record."""
        if self._line != (self._settings.first_row or self._settings.header_row + 1):
            return ""
        return f"; a row of units is passed over by `first row: {self._line + 1}`"

    def _fault(self, place: int, where: str, message: str, remedy: str) -> None:
        """Note a fault at a cell of the row that was read last."""
        column, width = _cell(self._text, self._delimiter, place)
        found = Fault(str(self._path), self._line, column, where, message, remedy, self._text[:WIDEST_SHOWN], width)
        self.faults.append(found)
        if len(self.faults) >= MOST_FAULTS:
            raise _Enough


WIDEST_SHOWN = 2000  # characters of a line that a fault carries


def _cell(text: str, delimiter: str, place: int) -> tuple[int, int]:
    """Column (from 1) and width of a cell in its line; delimiters inside quotes do not count."""
    starts, quoted = [0], False
    for index, letter in enumerate(text):
        quoted ^= letter == '"'
        if letter == delimiter and not quoted:
            starts.append(index + 1)
    starts.append(len(text) + 1)
    place = min(place, len(starts) - 2)
    start, end = starts[place], starts[place + 1] - 1
    start += len(text[start:end]) - len(text[start:end].lstrip(" "))
    return start + 1, max(1, end - start)
