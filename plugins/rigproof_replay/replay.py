"""Driver `replay`: the columns of a recorded table as the inputs of an instrument."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar

import numpy as np

from rigproof.errors import DocumentError, InstrumentError
from rigproof.instruments import Connection, Driver, FloatArray, Identity, Reads, Settings
from rigproof.quantities import did_you_mean, kind_of
from rigproof.replaying import REPLAYED_FIRMWARE, Recorded, Replays

from .settings import Column, ReplaySettings, TableSettings
from .table import Table, read_table

SLACK_S = 1e-6  # times are written to the microsecond: a row this little ahead of the clock is a row of now


class TableDriver(Driver, Replays):
    """What drivers of recorded tables share: the file, and its time on the injected clock."""

    def __init__(self, connection: Connection, settings: Settings) -> None:
        super().__init__(connection, settings)
        self.path = Path(connection.folder) / connection.resource
        self._table: Table | None = None
        self._opened_s: float | None = None  # when the run's zero was, on the clock

    @property
    def layout(self) -> TableSettings:
        """How the table is written."""
        assert isinstance(self.settings, TableSettings)
        return self.settings

    def columns(self) -> Sequence[Column]:
        """The columns that are wanted."""
        raise NotImplementedError

    def read_record(self) -> Recorded:
        """Read the table."""
        return Recorded(self._read().began)

    def open(self) -> Identity:
        """Read the table; the run's zero is now, and stays so when the driver is opened again."""
        try:
            table = self._read()
        except DocumentError as error:
            raise InstrumentError(self.connection.name, f"{error}; `rigproof check` shows every fault") from None
        if self._opened_s is None:
            self._opened_s = self.connection.clock.now()
        return Identity("record", self.path.name, table.sha256, REPLAYED_FIRMWARE)

    def close(self) -> None:
        """Nothing is held."""

    def errors(self) -> list[str]:
        """A record reports nothing."""
        return []

    def at(self, seconds: FloatArray, name: str) -> FloatArray:
        """Readings of a column, in the unit of the file, at times on the clock; `InstrumentError` outside them."""
        table = self._read()
        times = seconds - self._zero_s()
        self._inside(times, table)
        values = table.columns[name]
        if self.layout.interpolate == "linear":
            return np.interp(times, table.times, values)
        return values[np.searchsorted(table.times, times + SLACK_S, side="right") - 1]

    def _inside(self, times: FloatArray, table: Table) -> None:
        first, last = float(table.times[0]), float(table.times[-1])
        if times[0] < first - SLACK_S:
            raise InstrumentError(
                self.connection.name,
                f"{self.path.name} begins {first:g} s after the run does, and a reading was asked at {times[0]:g} s; "
                "correct `starts at:`",
            )
        if times[-1] > last + SLACK_S:
            raise InstrumentError(
                self.connection.name,
                f"{self.path.name} ends {last:g} s after the run's zero, and a reading was asked at {times[-1]:g} s; "
                "replay a procedure that is no longer than the record",
            )

    def _zero_s(self) -> float:
        if self._opened_s is None:
            raise InstrumentError(self.connection.name, "was not opened; open it first")
        return self._opened_s

    def _read(self) -> Table:
        if self._table is None:
            self._table = read_table(self.path, self.layout, [column.column for column in self.columns()])
        return self._table


class Replay(TableDriver, Reads):
    """Gives what the record says of the time that has passed since `open`; waits as a live instrument would."""

    kind: ClassVar[str] = "replay"
    settings_model: ClassVar[type[Settings]] = ReplaySettings

    @property
    def inputs(self) -> dict[int, Column]:
        """Column of each input."""
        assert isinstance(self.settings, ReplaySettings)
        return self.settings.inputs

    def columns(self) -> Sequence[Column]:
        """The columns of all inputs."""
        return list(self.inputs.values())

    def problems(self) -> Sequence[tuple[tuple[str | int, ...], str, str]]:
        """Inputs that a channel reads and no column feeds; units of another kind than the channel's."""
        found: list[tuple[tuple[str | int, ...], str, str]] = []
        for number, kind in self.connection.reads.items():
            column = self.inputs.get(number)
            if column is None:
                known = ", ".join(map(str, self.inputs))
                found.append(
                    (("inputs",), f"a channel reads input {number}; here are {known}", "add it, or correct one")
                )
            elif (problem := wrong_unit(column.unit, kind)) is not None:
                found.append((("inputs", str(number), "unit"), *problem))
        return found

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        """The recorded readings from now on, `interval_s` apart."""
        start = self.connection.clock.now()
        times = start + interval_s * np.arange(count, dtype=np.float64)
        block = np.column_stack([self._in_base_units(number, times) for number in inputs])
        self.connection.clock.wait(count * interval_s)
        return block

    def _in_base_units(self, number: int, times: FloatArray) -> FloatArray:
        column = self.inputs.get(number)
        if column is None:
            hint = did_you_mean(str(number), [str(known) for known in self.inputs])
            raise InstrumentError(self.connection.name, f"has no input {number}; {hint}")
        factor, offset = scale_of(column.unit, self.connection.reads[number])
        return self.at(times, column.column) * factor + offset


def scale_of(unit: str, kind: str) -> tuple[float, float]:
    """Factor and offset from a unit to the base unit of a kind."""
    about = kind_of(kind)
    factor, offset = about.units[about.also.get(unit, unit)]
    return float(factor), float(offset)


def wrong_unit(unit: str, kind: str) -> tuple[str, str] | None:
    """What is wrong with a unit for a kind of quantity, and the remedy; None where it fits."""
    about = kind_of(kind)
    if about.also.get(unit, unit) in about.units:
        return None
    known = [word for word in about.units if word]
    return f"{unit!r} is no unit of {kind}, which the channel reads", did_you_mean(unit, known)
