"""Driver `described meter`: readings of an instrument whose messages stand in rig.yaml."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import ClassVar

import numpy as np

from rigproof.documents.validation import wrong
from rigproof.instruments import Connection, FloatArray, Reads, Settings

from . import resources
from .command_map import MeterMap
from .described import Described
from .diagnosis import diagnose_talker
from .driver import scans
from .patterns import Wording

_BUSY_S = 0.05  # between two questions to a busy instrument


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
        if channel_input != 1 and not settings.read.has_inputs:
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
        due_s, before = clock.now(), 0
        for _ in range(count):
            for channel_input in inputs:
                if channel_input != before:
                    self._select(channel_input)
                readings.append(self._reading(channel_input))
                before = channel_input
            due_s += interval_s
            if (left_s := due_s - clock.now()) > 0:
                clock.wait(left_s)
        self._expect_no_errors(f"reading {asked}")
        return np.array(readings).reshape(count, len(inputs))

    def _select(self, channel_input: int) -> None:
        """Tell the instrument which input is read next, where the map says how."""
        for wording in self._map.read.select:
            self._write(wording, {"input": str(channel_input)})

    def _reading(self, channel_input: int) -> float:
        """One reading of an input in the base unit, or nan; while it is busy, asked again for one timeout."""
        clock = self.connection.clock
        deadline_s = clock.now() + self.connection.timeout_s
        while (reading := self._reply(channel_input)) is None:
            self._session.check(
                clock.now() < deadline_s,
                f"reading input {channel_input}",
                f"it was busy for {self.connection.timeout_s:g} s",
                "a number must come within one timeout",
                "give a longer `timeout:` in rig.yaml",
            )
            clock.wait(_BUSY_S)
        return reading

    def _reply(self, channel_input: int) -> float | None:
        """What it says of an input: a value in the base unit, nan for overload, None while it is busy."""
        way, number = self._map.read, str(channel_input)

        def parse(reply: str) -> float | None:
            if _fits(way.busy, reply, number):
                return None
            if _fits(way.overload, reply, number):
                return math.nan
            value = self._number(reply, way.form, "value", number)
            return self._map.to_base(value) if math.isfinite(value) else math.nan

        if way.ask is None:
            return self._session.listen(parse)
        return self._ask(way.ask, parse, input=number)


def _fits(forms: Iterable[Wording], reply: str, channel_input: str) -> bool:
    return any(found.match(reply, channel_input=channel_input) is not None for found in forms)
