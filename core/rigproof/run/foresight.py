"""What the documents and the models alone say of a rig at its highest load: strains, gauges, interlocks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rigproof.documents.rig import Rig
from rigproof.instruments import Excites
from rigproof.models import BridgeModel, Installation
from rigproof.quantities import Quantity, kind_of, show
from rigproof.steps.base import ALL_STRAIN, strain_channels
from rigproof.steps.checks import value_of
from rigproof.steps.terms import absolute, change, predicted_strain
from rigproof.uncertainty import Rule
from rigproof.verdict import words

from .interlocks import Lock, locks_of


@dataclass(frozen=True)
class Range:
    """What a channel is foreseen to read between no load and the highest one, with U at either end."""

    low: float
    high: float
    u_low: float
    u_high: float


@dataclass(frozen=True)
class Standing:
    """A lock and how near the procedure comes to it."""

    lock: Lock
    range: Range | None  # None: the documents do not tell what the channel will read
    distance: float | None  # to the nearest limit, U included; negative: it would or may trip

    @property
    def trips(self) -> Literal["", "may trip", "trips"]:
        """Whether it `trips`, or `may trip` where only U reaches the limit; empty where it does not."""
        if self.range is None or self.distance is None or self.distance >= 0:
            return ""
        above, below = self.lock.above, self.lock.below
        surely = (above and self.range.high > above.value) or (below and self.range.low < below.value)
        return "trips" if surely else "may trip"


def strain_at(rig: Rig, name: str, load_channel: str, load: float, rule: Rule) -> tuple[float, float]:
    """Strain and U that a channel ought to show while the load channel shows `load` above its zero."""
    unit = kind_of(rig.part.load).base
    channel = rig.channels[load_channel]
    reading, zero = (channel.correction.taken_from(np.array([value])) for value in (load, 0.0))
    rise = change(channel, reading, zero, "load", unit)
    term = predicted_strain(rig, name, rise)
    return value_of(term), term.expanded(rule.coverage)


def bridges(rig: Rig) -> tuple[str, ...]:
    """The strain channels whose gauge is known, so that the part model can tell what they will read."""
    return tuple(name for name in strain_channels(rig, (ALL_STRAIN,)) if rig.channels[name].gauge)


def installation(rig: Rig, name: str, highest_strain: float) -> tuple[BridgeModel, Installation]:
    """The gauge of a channel as installed, and the model that knows what to say of it."""
    channel = rig.channels[name]
    model, instrument = channel.reduction, rig.instruments[channel.instrument]
    assert isinstance(model, BridgeModel), "checked when the documents were read"
    assert channel.gauge is not None, "`bridges` gives no others"
    driver = instrument.driver
    volt = driver.set_excitation_v(instrument.settings) if issubclass(driver, Excites) else None
    return model, Installation(rig.gauges[channel.gauge], volt, rig.part.expansion(), highest_strain)


def standings(rig: Rig, load: float, rule: Rule) -> Iterator[Standing]:
    """Every interlock and every source's limit, against the highest load of the procedure."""
    for lock in locks_of(rig):
        found = _range(rig, lock.channel, load, rule)
        yield Standing(lock, found, _distance(lock, found) if found else None)


def _range(rig: Rig, name: str, load: float, rule: Rule) -> Range | None:
    channels = {source.channel for source in rig.sources.values()}
    if name in channels:
        unit = kind_of(rig.part.load).base
        readings = [rig.channels[name].correction.taken_from(np.array([p])) for p in (0.0, load)]
        terms = [absolute(rig.channels[name], reading, "load", unit) for reading in readings]
        ends = [(p, term.expanded(rule.coverage)) for p, term in zip((0.0, load), terms, strict=True)]
    elif name in bridges(rig) and channels:
        ends = [(0.0, 0.0), strain_at(rig, name, next(iter(rig.sources.values())).channel, load, rule)]
    else:
        return None
    (low, u_low), (high, u_high) = sorted(ends)
    return Range(low, high, u_low, u_high)


def _distance(lock: Lock, found: Range) -> float:
    """At least one of the limits is there."""
    above = [lock.above.value - found.high - found.u_high] if lock.above else []
    below = [found.low - found.u_low - lock.below.value] if lock.below else []
    return min(above + below)


def trip_cautions(rig: Rig, load: float, rule: Rule) -> list[str]:
    """The interlocks that would end the run before its highest load."""
    return [_trip(rig, load, standing) for standing in standings(rig, load, rule) if standing.trips]


def _trip(rig: Rig, load: float, standing: Standing) -> str:
    lock, found = standing.lock, standing.range
    assert found is not None, "only what is foreseen can trip"
    kind = rig.channels[lock.channel].measures
    high = lock.above is not None and lock.above.value - found.high - found.u_high < 0
    limit: Quantity | None = lock.above if high else lock.below
    value, expanded = (found.high, found.u_high) if high else (found.low, found.u_low)
    foreseen = words.with_u(value, expanded, kind)
    return (
        f"Interlock {lock.name!r} {'would' if standing.trips == 'trips' else 'may'} trip before the highest load of "
        f"{show(load, rig.part.load, 4)}: {lock.channel} is foreseen at {foreseen}, and its limit is "
        f"{limit.text if limit else ''}."
    )
