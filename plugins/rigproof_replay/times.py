"""When a row was recorded, from what its cell says.

Dates and times are those of RFC 3339 (a profile of ISO 8601): with a zone, or in the one zone that is stated. A leap
second (…:60) cannot be counted here and is refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import Literal

from rigproof.quantities import WrittenError

Form = Literal["elapsed", "date and time", "time of day"]
Number = Callable[[str], float]  # reads a number as the table writes it

_OFFSET = re.compile(r"([+-])([01][0-9]|2[0-3]):([0-5][0-9])")
_SECONDS = {"ms": 1e-3, "s": 1.0, "min": 60.0, "h": 3600.0}
_HALF_A_DAY_S = 43200.0


def zone_of(text: str) -> timezone:
    """`Z`, or an offset from UTC such as `+01:00`; a `WrittenError` says so."""
    if text in {"Z", "UTC"}:
        return UTC
    found = _OFFSET.fullmatch(text)
    if found is None:
        raise WrittenError(f"{text!r} is no zone", "write Z or the offset from UTC, such as +01:00")
    offset = timedelta(hours=int(found[2]), minutes=int(found[3]))
    return timezone(-offset if found[1] == "-" else offset)


def instant(text: str, zone: timezone | None) -> datetime:
    """A date and time with its zone; `zone` is that of times which name none."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        raise WrittenError(f"{text!r} is no date and time", "ISO 8601 is wanted: 2026-11-25T08:00:00.5+01:00") from None
    if len(text) <= len("2026-11-25"):
        raise WrittenError(f"{text!r} is a date without a time", "ISO 8601 is wanted: 2026-11-25T08:00:00.5+01:00")
    if found.tzinfo is not None:
        return found
    if zone is None:
        raise WrittenError(f"{text!r} names no zone", "state the zone of the record: `zone: +01:00` beside `form`")
    return found.replace(tzinfo=zone)


class Times:
    """Reads one time cell after the other into seconds since the first row's day, hour or date."""

    def __init__(self, form: Form, unit: str, zone: str | None, day: str | None, number: Number) -> None:
        self._form = form
        self._scale = _SECONDS[unit]
        self._zone = zone_of(zone) if zone is not None else None
        self._day = date.fromisoformat(day) if day else None
        self._number = number
        self._offset: timedelta | None = None  # of the first row; all others must have the same
        self._named: bool | None = None  # whether the first row names its zone
        self.origin: datetime | None = None  # what the seconds count from; None for elapsed time

    def seconds(self, text: str, before: float | None) -> float:
        """The time of a row; `before` is that of the row before it. A `WrittenError` says what is wrong."""
        if self._form == "elapsed":
            return self._elapsed(text) * self._scale
        if self._form == "date and time":
            return self._since(self._instant(text))
        return self._of_day(text, before)

    def _elapsed(self, text: str) -> float:
        try:
            return self._number(text)
        except WrittenError as error:
            try:
                datetime.fromisoformat(text)
            except ValueError:
                raise error from None
            said = f"{text!r} is a date and time, and the column is read as elapsed time"
            raise WrittenError(said, "write `form: date and time` under `time:`") from None

    def _since(self, at: datetime) -> float:
        if self.origin is None:
            self.origin = at
        return (at - self.origin).total_seconds()

    def _instant(self, text: str) -> datetime:
        at = instant(text, self._zone)
        # The time is the last thing in a text that may carry a sign or a Z: look behind the T alone.
        named = any(mark in text[10:] for mark in "+-Zz")
        offset = at.utcoffset()
        if self._named is None:
            self._named, self._offset = named, offset
        if named != self._named:
            what = "names a zone" if named else "names no zone"
            raise WrittenError(
                f"{text!r} {what}, unlike the rows before it", "write all rows alike, best in UTC with Z"
            )
        if offset != self._offset:
            said = f"{text!r} is in another zone than the rows before it"
            raise WrittenError(said, "write all rows in one zone, best in UTC with Z")
        return at

    def _of_day(self, text: str, before: float | None) -> float:
        try:
            clock = time.fromisoformat(text)
        except ValueError:
            raise WrittenError(f"{text!r} is no time of day", "write it as 08:00:00 or 08:00:00.5") from None
        if clock.tzinfo is not None:
            raise WrittenError(f"{text!r} names a zone, which `zone:` states", "take it out of the column")
        assert self._day is not None, "checked in the settings"
        at = self._since(datetime.combine(self._day, clock, self._zone))
        if before is not None and before - at > _HALF_A_DAY_S:  # past midnight
            self._day += timedelta(days=1)
            at += 2 * _HALF_A_DAY_S
        return at
