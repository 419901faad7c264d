"""The simulated thermometer."""

from __future__ import annotations

from rigproof_twin.instruments.base import SimulatedInstrument
from rigproof_twin.parameters import Channels
from rigproof_twin.scpi import query


class Thermometer(SimulatedInstrument):
    """Reads °C."""

    kind = "thermometer"

    @query("MEASure:TEMPerature", Channels())
    def _measure(self, channels: tuple[int, ...]) -> str:
        inputs = self.existing(channels)
        return self.in_turn(inputs, [self.seen(i, self.world.temperature_c(i)) for i in inputs])
