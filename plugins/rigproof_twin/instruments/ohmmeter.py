"""The simulated four-wire ohmmeter with its input scanner."""

from __future__ import annotations

from rigproof_twin.instruments.base import SimulatedInstrument
from rigproof_twin.parameters import Channels
from rigproof_twin.scpi import query


class Ohmmeter(SimulatedInstrument):
    """Reads Ω; an open circuit is an overload."""

    kind = "ohmmeter"

    @query("MEASure:FRESistance", Channels())
    def _measure(self, channels: tuple[int, ...]) -> str:
        inputs = self.existing(channels)
        return self.in_turn(inputs, [self.seen(i, self.world.resistance_ohm(i)) for i in inputs])
