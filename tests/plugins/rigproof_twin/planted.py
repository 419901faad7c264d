"""A world with flaws in it and a bridge amplifier at hand, without instruments in between."""

from __future__ import annotations

import numpy as np

from rigproof.quantities import parse
from rigproof.simulation import Planted
from rigproof_twin.as_built import AsBuilt
from rigproof_twin.clock import VirtualClock
from rigproof_twin.flaws import FLAWS
from rigproof_twin.world import RigWorld

BAR = 1e5


def flaw(name: str, size: str = "") -> Planted:
    kind = FLAWS[name].flaw.kind
    return Planted(name, parse(size, kind).value if size else None, f"{name}={size}" if size else name)


class Spool:
    """A world with a bridge amplifier at hand."""

    def __init__(self, built: AsBuilt) -> None:
        self.built = built
        self.world = RigWorld(VirtualClock(), built)
        self.bridge = self.world.at_terminals("bridge")
        for i in (1, 2):
            self.bridge.set_excitation(i, 2.5)

    def output(self, channel_input: int = 1) -> float:
        return float(self.bridge.bridge_output([channel_input], np.array([self.world.clock.now()]))[0, 0])

    def move_to(self, bar: float, wait_s: float = 60.0) -> None:
        source, before = self.world.source, self.world.source.pressure_pa()
        source.set_rate(0.5 * BAR)
        source.set_target(bar * BAR)
        source.enable(True)
        self.world.clock.wait(abs(bar * BAR - before) / (0.5 * BAR) + wait_s)
