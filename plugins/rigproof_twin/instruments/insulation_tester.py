"""The simulated insulation tester."""

from __future__ import annotations

import math

from rigproof_twin.instruments.base import SimulatedInstrument, nr3
from rigproof_twin.parameters import Channels, Number, Switch
from rigproof_twin.scpi import command, query

HIGHEST_V = 1000.0


class InsulationTester(SimulatedInstrument):
    """Reads Ω between a lead bundle and the part; the test voltage is there only while the output is ON."""

    kind = "insulation tester"

    volt = 0.0
    output = False

    def reset(self) -> None:
        """Output off, 0 V."""
        self.output = False
        self.volt = 0.0

    @command("SOURce:VOLTage", Number(-HIGHEST_V, HIGHEST_V))
    def _set_voltage(self, volt: float) -> None:
        self.volt = volt

    @query("SOURce:VOLTage")
    def _voltage(self) -> str:
        return nr3(self.volt)

    @command("OUTPut[:STATe]", Switch())
    def _switch_output(self, on: bool) -> None:
        self.output = on

    @query("OUTPut[:STATe]")
    def _output(self) -> str:
        return str(int(self.output))

    @query("MEASure:RESistance", Channels())
    def _measure(self, channels: tuple[int, ...]) -> str:
        inputs = self.existing(channels)
        if not self.output or self.volt == 0.0:
            return self.in_turn(inputs, [math.nan] * len(inputs))  # without a voltage there is nothing to read
        return self.in_turn(inputs, [self.seen(i, self.world.insulation_ohm(i, self.volt)) for i in inputs])
