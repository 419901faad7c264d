"""Interlocks watched with every reading. Software: no protective device, and never a reason to leave one out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from math import isfinite

import numpy as np

from rigproof.documents.rig import Rig
from rigproof.errors import Tripped
from rigproof.instruments import FloatArray
from rigproof.interlocks import Lock, Seen, Sight, locks_of
from rigproof.models import BridgeModel


class Interlocks:
    """All interlocks of a rig, and the limit of each source. A strain counts from the last zero, not before.

    `watches` false: only what they are is known, as on paper.
    """

    def __init__(self, rig: Rig, watches: bool = True) -> None:
        self._rig = rig
        self._watches = watches
        self._locks = locks_of(rig)
        self._watched = {name for lock in self._locks for name in lock.channels}
        # Only a bridge waits for a zero: other quantities have one by nature.
        self._zeros = {n: 0.0 for n, about in rig.channels.items() if not isinstance(about.reduction, BridgeModel)}
        self._nominal: dict[str, tuple[float, ...]] = {}  # the models' inputs at their estimates, by channel

    @property
    def locks(self) -> tuple[Lock, ...]:
        """All of them, in the order in which they are looked at."""
        return tuple(self._locks)

    @property
    def channels(self) -> tuple[str, ...]:
        """Channels that must be read wherever load may be on."""
        return tuple(dict.fromkeys(name for lock in self._locks for name in lock.channels))

    def zero(self, channel: str, reading: float) -> None:
        """Count the strain of a channel from this raw reading on."""
        self._zeros[channel] = self._rig.channels[channel].correction.added_to(reading)
        for lock in self._locks:
            if channel in lock.channels:
                lock.forget()

    def quantity(self, channel: str, raw: FloatArray) -> FloatArray | None:
        """Readings as the quantity the channel stands for, at nominal inputs; None before a strain has its zero."""
        model = self._rig.channels[channel].reduction
        raw = self._rig.channels[channel].correction.added_to(raw)
        if model is None:
            return raw
        zero = self._zeros.get(channel)
        if zero is None:
            return None
        if channel not in self._nominal:
            gauge = self._rig.channels[channel].gauge
            inputs = model.inputs([self._rig.gauges[gauge]] if gauge else [])
            self._nominal[channel] = tuple(item.value for item in inputs)
        reading = raw[0] if len(raw) == 1 else raw  # most come alone, and numpy reduces a scalar far faster
        return np.array(model.reduce(reading, zero, *self._nominal[channel]), dtype=np.float64, ndmin=1)

    def check(
        self,
        readings: Mapping[str, FloatArray],
        under_load: bool,
        now_s: float = 0.0,
        began_s: Mapping[str, float] | None = None,
        interval_s: float = 0.0,
    ) -> None:
        """Raise `Tripped` at the first interlock whose limit a reading passes; a missing reading trips under load.

        `began_s`: when the first of `interval_s` spaced readings of each channel was taken, now where it is left out.
        """
        if not self._watches:
            return
        sight = self._sight(readings, under_load, now_s, began_s or {}, interval_s)
        for lock in self._locks:
            if lock.under_load_only and not under_load:
                lock.forget()
                continue
            lock.check(sight)
            if under_load and lock.needs_readings and (gone := sight.missing.intersection(lock.channels)):
                channel = min(gone)
                text = f"interlock {lock.name!r}: channel {channel} gives no reading under load"
                raise Tripped(text, lock.name, channel, None, "a reading", sight.begun([channel]), now_s)

    @contextmanager
    def replaced(self, lock: Lock) -> Iterator[None]:
        """For a test: `lock` stands in for the interlock of its name, and nothing read meanwhile counts afterwards."""
        places = [place for place, own in enumerate(self._locks) if own.name == lock.name]
        own = [self._locks[place] for place in places]
        for place in places:
            self._locks[place] = lock
        try:
            yield
        finally:
            for place, back in zip(places, own, strict=True):
                self._locks[place] = back
            for each in self._locks:
                each.forget()

    def _sight(
        self,
        readings: Mapping[str, FloatArray],
        under_load: bool,
        now_s: float,
        began_s: Mapping[str, float],
        interval_s: float,
    ) -> Sight:
        channels: dict[str, Seen] = {}
        missing: list[str] = []
        for name in self._watched & readings.keys():
            raw = readings[name]
            values = self.quantity(name, raw)
            numbers = [number for number in (raw if values is None else values).tolist() if isfinite(number)]
            if len(numbers) < len(raw):
                missing.append(name)
            if values is not None and numbers:
                middle_s = began_s.get(name, now_s) + interval_s * (len(raw) - 1) / 2
                channels[name] = Seen(middle_s, min(numbers), max(numbers), sum(numbers) / len(numbers))
        return Sight(now_s, under_load, channels, frozenset(missing), began_s)
