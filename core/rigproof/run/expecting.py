"""What a channel reads now beside what it ought to read at the present load: for the person who watches, no check.

Thermal output is not taken out here, as the checks do it.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from math import isfinite

import numpy as np

from rigproof.documents.rig import Channel, Rig
from rigproof.instruments import FloatArray, Reads
from rigproof.quantities import kind_of, show
from rigproof.steps.checks import value_of
from rigproof.steps.terms import change, combine, predicted_strain, reading_input, strain
from rigproof.uncertainty import Estimate, Rule

from .interlocks import Interlocks
from .progress import Reading

Expected = tuple[float, float]  # value, and U of the reading less it


@dataclass(frozen=True)
class Load:
    """The reading of the channel that shows the load, and the one without load."""

    channel: Channel
    now: float
    zero: float


class Expecting:
    """Remembers where strain and load count from, and what the sources were told to do."""

    def __init__(self, rule: Rule, interlocks: Interlocks) -> None:
        self._rule = rule
        self._interlocks = interlocks
        self._zeros: dict[str, float] = {}  # raw, by channel: strains and loads
        self._targets: dict[str, float] = {}  # by the channel of a source

    def zero(self, channel: str, raw: float) -> None:
        """Count the channel from this raw reading on."""
        self._zeros[channel] = raw

    def target(self, channel: str, load: float) -> None:
        """The source of this channel was told to reach `load`."""
        self._targets[channel] = load

    def readings(self, rig: Rig, values: Mapping[str, FloatArray], now_s: float) -> dict[str, Reading]:
        """Raw readings as a person wants to see them, those of each channel as their mean."""
        load = self._load(rig, values)
        return {name: self._reading(rig, name, float(np.mean(raw)), load, now_s) for name, raw in values.items()}

    def _reading(self, rig: Rig, name: str, raw: float, load: Load | None, now_s: float) -> Reading:
        about = rig.channels[name]
        value, kind = self._quantity(about, raw)
        if not isfinite(value):
            shown = "above range" if value > 0 else "no reading"
            return Reading(None, kind, shown, now_s, target=self._targets.get(name))
        expected, expanded = self._expected(rig, about, raw, load) or (None, None)
        shown = (_displayed(rig, about, raw) if kind != about.measures else "") or show(value, kind, 4)
        return Reading(value, kind, shown, now_s, expected, expanded, self._targets.get(name))

    def _quantity(self, about: Channel, raw: float) -> tuple[float, str]:
        """What the channel stands for; as read where a strain has no zero yet, or where its model fails."""
        with suppress(Exception):
            quantity = self._interlocks.quantity(about.name, np.array([raw]))
            if quantity is not None:
                return float(quantity[-1]), about.measures
        return raw, about.reads

    def _load(self, rig: Rig, values: Mapping[str, FloatArray]) -> Load | None:
        """None where it was not read, has no zero, or where several sources load the part: no model adds those up."""
        names = {source.channel for source in rig.sources.values()}
        name = next(iter(names), "")
        if len(names) != 1 or name not in values or name not in self._zeros:
            return None
        return Load(rig.channels[name], float(np.mean(values[name])), self._zeros[name])

    def _expected(self, rig: Rig, about: Channel, raw: float, load: Load | None) -> Expected | None:
        """Nothing where a model fails: a run must not end for what is only shown, and the checks will tell."""
        with suppress(Exception):
            if about.gauge and about.measures == "resistance":
                packet = rig.gauges[about.gauge].resistance
                estimate = Estimate(packet.value, packet.u, packet.dof)
                return packet.value, estimate.expanded(self._rule.coverage)[1]
            if about.gauge and about.measures == "strain" and load and about.name in self._zeros:
                return self._strain(rig, about.name, raw, load)
        return None

    def _strain(self, rig: Rig, name: str, raw: float, load: Load) -> Expected:
        """The part model at the load, and U of the difference: what a single reading scatters by stands beside it."""
        unit = kind_of(rig.part.load).base
        rise = change(load.channel, np.array([load.now]), np.array([load.zero]), "load", unit)
        predicted = predicted_strain(rig, name, rise)
        now, zero = (
            reading_input(f"{name} {label}", np.array([value]), "V/V")
            for label, value in (("now", raw), ("zero", self._zeros[name]))
        )
        difference = combine(lambda a, b: a - b, strain(rig, name, now, zero, "now"), predicted)
        return value_of(predicted), difference.expanded(self._rule.coverage)


def _displayed(rig: Rig, about: Channel, raw: float) -> str:
    """What stands on the display that a person reads, of a reading that is no strain yet."""
    instrument = rig.instruments[about.instrument]
    reader: type = instrument.driver
    return reader.displayed(instrument.settings, about.input, raw) if issubclass(reader, Reads) else ""
