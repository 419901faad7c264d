"""What a meter of any make finds at an input, by what its channel reads."""

from __future__ import annotations

import numpy as np

from rigproof_twin.interface import World

TEST_V = 50.0  # of an insulation test; a dry leak is the same at any


def truth(world: World, channel_input: int, reads: str) -> float:
    """The true value at an input now, base unit; nan: open circuit."""
    if reads == "bridge output":
        world.set_excitation(channel_input, 1.0)
        return float(world.bridge_output([channel_input], np.array([world.clock.now()]))[0, 0])
    if reads == "resistance":
        return world.resistance_ohm(channel_input)
    if reads == "temperature":
        return world.temperature_c(channel_input)
    if reads == "gauge pressure":
        return world.pressure_pa()
    if reads in ("force", "torque"):
        return world.force_n()
    return world.insulation_ohm(channel_input, TEST_V)
