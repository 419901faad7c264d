"""Limits watched with every reading. Software: no protective device, and never a reason to leave one out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isfinite

import numpy as np

from rigproof.documents.rig import Rig
from rigproof.errors import Tripped
from rigproof.instruments import FloatArray
from rigproof.models import BridgeModel
from rigproof.quantities import Quantity, kind_of, show


@dataclass(frozen=True)
class Lock:
    """One limit that is watched."""

    name: str
    channel: str
    above: Quantity | None
    below: Quantity | None


def locks_of(rig: Rig) -> list[Lock]:
    """All interlocks of a rig, then the limit of each source."""
    written = [Lock(lock.name, lock.channel, lock.above, lock.below) for lock in rig.interlocks.values()]
    return written + [Lock(f"limit of {s.name}", s.channel, s.limit, _turned(s.limit)) for s in rig.sources.values()]


def _turned(limit: Quantity) -> Quantity | None:
    """The same limit for the other direction of load, compression; None where no such load is possible."""
    lowest = kind_of(limit.kind).lowest
    return (
        None
        if lowest is not None and -limit.value < lowest
        else replace(limit, value=-limit.value, text=f"-{limit.text}")
    )


class Interlocks:
    """All interlocks of a rig, and the limit of each source. A strain limit counts from the last zero, not before."""

    def __init__(self, rig: Rig) -> None:
        self._rig = rig
        self._locks = locks_of(rig)
        # Only a bridge waits for a zero: other quantities have one by nature.
        self._zeros = {n: 0.0 for n, about in rig.channels.items() if not isinstance(about.reduction, BridgeModel)}
        self._nominal: dict[str, tuple[float, ...]] = {}  # the models' inputs at their estimates, by channel

    @property
    def channels(self) -> tuple[str, ...]:
        """Channels that must be read wherever load may be on."""
        return tuple(dict.fromkeys(lock.channel for lock in self._locks))

    def zero(self, channel: str, reading: float) -> None:
        """Count the strain of a channel from this raw reading on."""
        self._zeros[channel] = self._rig.channels[channel].correction.added_to(reading)

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

    def check(self, readings: Mapping[str, FloatArray], under_load: bool) -> None:
        """Raise `Tripped` at the first interlock whose limit a reading passes; a missing reading trips under load."""
        for lock in self._locks:
            if lock.channel not in readings:
                continue
            raw = readings[lock.channel]
            values = self.quantity(lock.channel, raw)
            numbers = [number for number in (raw if values is None else values).tolist() if isfinite(number)]
            if values is not None and numbers:
                self._limits(lock, max(numbers), min(numbers))
            if under_load and len(numbers) < len(raw):
                raise Tripped(f"interlock {lock.name!r}: channel {lock.channel} gives no reading under load")

    def _limits(self, lock: Lock, highest: float, lowest: float) -> None:
        kind = self._rig.channels[lock.channel].measures
        if lock.above is not None and highest > lock.above.value:
            raise Tripped(f"interlock {lock.name!r}: {lock.channel} at {show(highest, kind)}, limit {lock.above.text}")
        if lock.below is not None and lowest < lock.below.value:
            raise Tripped(f"interlock {lock.name!r}: {lock.channel} at {show(lowest, kind)}, limit {lock.below.text}")
