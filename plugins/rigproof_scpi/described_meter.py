"""Driver `described meter`: readings of an instrument whose messages stand in rig.yaml."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import ClassVar

import numpy as np

from rigproof.documents.validation import wrong
from rigproof.instruments import Connection, FloatArray, Reads, Settings

from . import resources
from .command_map import MeterMap
from .described import Described
from .diagnosis import diagnose_talker
from .driver import scans


class DescribedMeter(Described, Reads):
    """Asks for each reading, or listens for it; overload and what the map calls so are nan."""

    kind: ClassVar[str] = "described meter"
    settings_model: ClassVar[type[Settings]] = MeterMap

    def __init__(self, connection: Connection, settings: Settings) -> None:
        super().__init__(connection, settings)
        assert isinstance(settings, MeterMap), "see `settings_model`"
        self._map = settings

    @classmethod
    def check_settings(cls, resource: str, settings: Settings) -> None:
        """As for every VISA resource; and what is listened to must run as a stream."""
        super().check_settings(resource, settings)
        assert isinstance(settings, MeterMap), "see `settings_model`"
        if settings.read.listen is not None and not resources.resource(resource).is_stream:
            what = f"nobody sends without being asked on {resource!r}"
            raise wrong(("read", "listen"), what, "listen on a serial line or a socket, or ask", "")

    @classmethod
    def unreadable(cls, settings: Settings, channel_input: int, kind: str) -> str:
        """It gives one quantity; inputs other than 1 only where the map says where the input stands."""
        assert isinstance(settings, MeterMap), "see `settings_model`"
        if settings.quantity != kind:
            return f"gives {settings.quantity} by its map, and the channel reads {kind}"
        if channel_input != 1 and (settings.read.ask is None or not settings.read.ask.has("input")):
            return f"has input 1 only: what its map asks has no {{input}}, and the channel reads input {channel_input}"
        return ""

    def diagnose(self) -> str:
        """As for every described instrument; one that is listened to tells by what is heard of it."""
        if self._map.read.listen is None:
            return super().diagnose()
        return diagnose_talker(self.connection, self._map)

    def _expect_it_works(self) -> None:
        """One that is listened to must be heard."""
        if self._map.read.listen is not None:
            self._session.listen(str)

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        """Take the readings one by one; an instrument slower than `interval_s` stretches the interval.

        After a failed reading the next one is tried on a fresh connection.
        """
        asked = scans(inputs, count, interval_s)
        self._recover()
        clock, readings = self.connection.clock, []
        due_s = clock.now()
        for _ in range(count):
            readings.append([self._reading(channel_input) for channel_input in inputs])
            due_s += interval_s
            if (left_s := due_s - clock.now()) > 0:
                clock.wait(left_s)
        self._expect_no_errors(f"reading {asked}")
        return np.array(readings)

    def _reading(self, channel_input: int) -> float:
        """One reading of an input in the base unit, or nan."""
        way, number = self._map.read, str(channel_input)

        def parse(reply: str) -> float:
            if any(found.match(reply, channel_input=number) is not None for found in way.overload):
                return math.nan
            value = self._number(reply, way.form, "value", number)
            return self._map.to_base(value) if math.isfinite(value) else math.nan

        if way.ask is None:
            return self._session.listen(parse)
        return self._ask(way.ask, parse, input=number)
