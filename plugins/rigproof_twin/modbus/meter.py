"""The simulated meter: pressure and temperature in registers."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from rigproof_twin.fields import field_of
from rigproof_twin.interface import Appearance, World
from rigproof_twin.modbus.numbers import Number
from rigproof_twin.modbus.tables import Cell
from rigproof_twin.modbus.unit import SimulatedUnit
from rigproof_twin.refusal import beyond

if TYPE_CHECKING:
    from rigproof.documents.rig import Instrument, Rig

SHOWS = ("gauge pressure", "temperature")


class Meter(SimulatedUnit):
    """Shows each input of the map that a channel names; the registers of the others do not exist."""

    def __init__(
        self, rig: Rig, instrument: Instrument, world: World, appearance: Appearance, rng: np.random.Generator
    ) -> None:
        super().__init__(instrument, world, appearance, rng)
        inputs = field_of(instrument.settings, "inputs")
        assert isinstance(inputs, dict), "a map by input"
        for channel in rig.channels.values():
            if channel.instrument != instrument.name or channel.input not in inputs:
                continue
            if channel.reads not in SHOWS or channel.gauge:
                what = (
                    f"the twin's {instrument.driver.kind} does not show {'a gauge' if channel.gauge else channel.reads}"
                )
                raise beyond(rig, ("channels", channel.name, "measures"), what, SHOWS)
            entry = inputs[channel.input]
            number = Number.of(entry, channel.reads)
            words = self._register(channel.input, channel.reads, number, entry)
            self.tables.add(Cell(number.place, number.size, words))

    def _register(self, channel_input: int, kind: str, number: Number, entry: object) -> Callable[[], list[int]]:
        truth = self.world.pressure_pa if kind == "gauge pressure" else partial(self.world.temperature_c, channel_input)
        overload = number.overload(entry)

        def words() -> list[int]:
            value = self.seen(channel_input, truth())
            return number.words(value) if isfinite(value) else overload

        return words
