"""What all drivers here share: a session, and channel lists and numbers as SCPI writes them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import ClassVar

import numpy as np

from rigproof.errors import NumberError
from rigproof.instruments import Connection, Driver, FloatArray, Identity, Reads, Settings
from rigproof.serial_ports import Port

from . import replies, resources
from .diagnosis import before_it, diagnose
from .session import Session
from .settings import VisaSettings

_MOST_INPUTS = 9999  # that a channel list can name


class VisaDriver(Driver):
    """What can be told of any instrument at a VISA resource before it is opened."""

    settings_model: ClassVar[type[Settings]] = VisaSettings

    @classmethod
    def check_resource(cls, resource: str) -> None:
        """A VISA resource name that carries messages."""
        resources.resource(resource)

    @classmethod
    def check_settings(cls, resource: str, settings: Settings) -> None:
        """Serial settings belong to a serial line, and a stream needs a terminator."""
        if isinstance(settings, VisaSettings):
            resources.check(resource, settings)

    @classmethod
    def serial_port(cls, resource: str) -> Port | None:
        """The port of `ASRL…`; a bare number is that of a COM port. Addressed instruments share a line."""
        port = resources.resource(resource).port
        return Port(f"COM{port}" if port.isdigit() else port, "text") if port else None

    @classmethod
    def obstacle(cls, resource: str) -> str:
        """A library that PyVISA lacks, a serial port that is not there."""
        return resources.obstacle(resource)

    def diagnose(self) -> str:
        """A library or port that is not there, a name or address that nobody answers: what needs no question."""
        return before_it(self.connection)


class ScpiDriver(VisaDriver):
    """A driver that talks SCPI over one session. Settings that are no `VisaSettings` mean its defaults."""

    def __init__(self, connection: Connection, settings: Settings) -> None:
        super().__init__(connection, settings)
        self._session = Session(connection, settings if isinstance(settings, VisaSettings) else None)

    def open(self) -> Identity:
        """Connect, `*CLS`, `*IDN?`."""
        return self._session.open()

    def look(self) -> Identity:
        """Connect and `*IDN?`; no `*CLS`, so that the error queue can still be read."""
        return self._session.look()

    def diagnose(self) -> str:
        """Name, address, port, terminator or baud rate: what an identity query tells."""
        settings = self.settings if isinstance(self.settings, VisaSettings) else VisaSettings()
        return diagnose(self.connection, settings)

    def resume(self) -> Identity:
        """A fresh connection, and the same `*IDN?`; nothing is set."""
        return self._session.resume()

    def close(self) -> None:
        """Close the session."""
        self._session.close()

    def errors(self) -> list[str]:
        """Drain `SYST:ERR?`."""
        return self._session.errors()


class Meter(ScpiDriver, Reads):
    """A driver that asks for each reading on its own."""

    measure: ClassVar[str]  # the query without its channel list
    gives: ClassVar[str]  # the kind of its readings

    @classmethod
    def unreadable(cls, settings: Settings, channel_input: int, kind: str) -> str:  # noqa: ARG003  as for any
        """It reads one kind of quantity, at inputs that its messages can name."""
        return unlike(cls.gives, channel_input, kind)

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        """Take the readings one by one; an instrument slower than `interval_s` stretches the interval.

        A meter has no settings to lose, so after a failed reading the next one is tried on a fresh connection.
        """
        asked = scans(inputs, count, interval_s)
        queries = [f"{self.measure} {channels([channel_input])}" for channel_input in inputs]
        self._session.recover()
        clock, readings = self.connection.clock, []
        due_s = clock.now()
        for _ in range(count):
            readings.append([self._reading(query) for query in queries])
            due_s += interval_s
            if (left_s := due_s - clock.now()) > 0:
                clock.wait(left_s)
        self._session.expect_no_errors(f"{self.measure} {asked}")
        return np.array(readings)

    def _reading(self, query: str) -> float:
        value = self._session.ask(query, replies.number)
        return value if math.isfinite(value) else math.nan


def unlike(gives: str, channel_input: int, kind: str) -> str:
    """What stands against reading `kind` at an input with what `gives` another kind; "" where nothing does."""
    if kind != gives:
        return f"it reads {gives}, and the channel {kind}"
    return "" if 1 <= channel_input <= _MOST_INPUTS else f"its inputs count from 1 to {_MOST_INPUTS}"


def channels(inputs: Sequence[int]) -> str:
    """A channel list (SCPI-1999, volume 1, 8.3.2): `(@1,2)`."""
    if not inputs or min(inputs) < 1 or max(inputs) > _MOST_INPUTS:
        raise NumberError(f"inputs={list(inputs)}: an instrument's inputs count from 1. Give one or more of 1 to 9999.")
    return f"(@{','.join(map(str, inputs))})"


def written(value: float) -> str:
    """A number as sent to an instrument (IEEE 488.2, 7.7.2)."""
    if not math.isfinite(value):
        raise NumberError(f"value={value}: an instrument is set to finite numbers only. Give one.")
    return f"{value:.9G}"


def scans(inputs: Sequence[int], count: int, interval_s: float) -> str:
    """The channel list of a request for readings; one that makes no sense is refused before anything is sent."""
    listed = channels(inputs)
    if count < 1:
        raise NumberError(f"count={count}: at least one reading is taken. Give 1 or more.")
    if not 0 <= interval_s < math.inf:
        raise NumberError(f"interval_s={interval_s}: readings lie a finite time apart. Give 0 or more.")
    return listed
