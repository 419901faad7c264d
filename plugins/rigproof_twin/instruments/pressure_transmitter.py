"""The simulated pressure transmitter, which sits on the part and has one input."""

from __future__ import annotations

from rigproof_twin.instruments.base import SimulatedInstrument
from rigproof_twin.parameters import Channels
from rigproof_twin.scpi import query
from rigproof_twin.status import ScpiError


class PressureTransmitter(SimulatedInstrument):
    """Reads gauge pressure in Pa."""

    kind = "pressure transmitter"

    @query("MEASure:PRESsure", Channels())
    def _measure(self, channels: tuple[int, ...]) -> str:
        if channels != (1,):
            raise ScpiError(-222, "the transmitter has input 1 only")
        return self.in_turn(channels, [self.seen(1, self.world.pressure_pa())])
