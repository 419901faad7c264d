"""What rig.yaml says of a recorded table: its form, its time, and which column each input is."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from rigproof.instruments import Settings
from rigproof.models import DocumentModel
from rigproof.quantities import KINDS, Quantity, WrittenError, did_you_mean, parse, quantity

from .times import Form, instant, zone_of

DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t"}
CODECS = {"utf-8": "utf-8-sig", "utf-16": "utf-16", "latin-1": "latin-1", "windows-1252": "cp1252"}
MISSING = ("", "NaN", "OVL")


def _written_unit(unit: str) -> str:
    known = [word for kind in KINDS.values() for word in (*kind.units, *kind.also)]
    if unit not in known:
        raise WrittenError(f"{unit!r} is no unit", did_you_mean(unit, dict.fromkeys(filter(None, known))))
    return unit


def _day(text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise WrittenError(f"{text!r} is no date", "write year-month-day, such as 2026-11-25") from None


def _is_zone(text: str) -> str:
    zone_of(text)
    return text


Unit = Annotated[str, AfterValidator(_written_unit)]


class Column(DocumentModel):
    """A column with its unit."""

    column: Annotated[str, Field(min_length=1)]
    unit: Unit


class TimeColumn(DocumentModel):
    """The column that tells when a row was recorded, and how it is written."""

    column: Annotated[str, Field(min_length=1)]
    form: Form
    unit: Literal["ms", "s", "min", "h"] = "s"  # of elapsed time
    zone: Annotated[str, AfterValidator(_is_zone)] | None = None  # of times that name none
    date: Annotated[str, AfterValidator(_day)] | None = None

    @field_validator("date")
    @classmethod
    def _whole(cls, day: str | None, info: ValidationInfo) -> str | None:
        form, zone = info.data.get("form"), info.data.get("zone", "")
        if form == "time of day" and (day is None or zone is None):
            raise WrittenError("a time of day alone is no time", "add `date:` of the first row and `zone:`")
        if form != "time of day" and day is not None:
            raise WrittenError(f"`date` says nothing beside the form {form!r}", "leave it out")
        if form == "elapsed" and zone:
            raise WrittenError("elapsed time has no zone", "leave `zone` out")
        return day


class TableSettings(Settings):
    """`settings:` of whatever reads a table."""

    delimiter: Literal["comma", "semicolon", "tab"] = "comma"
    decimal: Literal["point", "comma"] = "point"
    encoding: Literal["utf-8", "utf-16", "latin-1", "windows-1252"] = "utf-8"
    header_row: Annotated[int, Field(ge=1, le=1000)] = 1
    first_row: Annotated[int | None, Field(ge=2, le=1001)] = None  # of the numbers; None: the row after the header
    time: TimeColumn
    starts_at: str | None = None  # the record's time at which the run begins; None: its first row
    missing: tuple[str, ...] = MISSING
    interpolate: Literal["no", "linear"] = "no"
    longest_gap: Annotated[Quantity, quantity("time", above="0 s")]

    @field_validator("starts_at")
    @classmethod
    def _in_the_form_of_time(cls, written: str | None, info: ValidationInfo) -> str | None:
        time: TimeColumn | None = info.data.get("time")
        if written is None or time is None:
            return written
        if time.form == "elapsed":
            parse(written, "time")
        else:
            instant(written, None)
        return written

    @field_validator("first_row")
    @classmethod
    def _behind_the_header(cls, row: int | None, info: ValidationInfo) -> int | None:
        header = info.data.get("header_row")
        if row is not None and header is not None and row <= header:
            raise WrittenError(f"row {row} is not behind the header in row {header}", "count rows from 1")
        return row

    def zero(self) -> datetime | Quantity | None:
        """`starts at` as a date and time, or as time elapsed."""
        if self.starts_at is None:
            return None
        return parse(self.starts_at, "time") if self.time.form == "elapsed" else instant(self.starts_at, None)


class ReplaySettings(TableSettings):
    """`settings:` of the driver `replay`."""

    inputs: Annotated[dict[int, Column], Field(min_length=1)]


Load = Annotated[Quantity, quantity("gauge pressure", "force", "torque")]


class ReplaySourceSettings(TableSettings):
    """`settings:` of the driver `replay source`: the column that tells the load, and what counts as arrived."""

    load: Column
    within: Load  # so near to its target the recorded load has reached it
    safe_below: Load

    @field_validator("within", "safe_below")
    @classmethod
    def _above_zero(cls, size: Quantity) -> Quantity:
        if size.value <= 0:
            raise WrittenError(f"{size.text!r} is not above 0", "write how much it is, without a sign")
        return size
