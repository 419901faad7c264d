"""What a meter of any make finds at an input, by what its channel reads."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from rigproof_twin.interface import World

TEST_V = 50.0  # of an insulation test; a dry leak is the same at any


def truth(world: World, channel_input: int, reads: str) -> float:
    """The true value at an input now, base unit; nan: open circuit."""
    return _AT[reads](world, channel_input)


def _bridge_output(world: World, channel_input: int) -> float:
    world.set_excitation(channel_input, 1.0)
    return float(world.bridge_output([channel_input], np.array([world.clock.now()]))[0, 0])


_AT: Mapping[str, Callable[[World, int], float]] = {
    "temperature": lambda world, channel_input: world.temperature_c(channel_input),
    "gauge pressure": lambda world, _: world.pressure_pa(),
    "force": lambda world, _: world.force_n(),
    "torque": lambda world, _: world.force_n(),
    "volume": lambda world, _: world.volume_m3(),
    "resistance": lambda world, channel_input: world.resistance_ohm(channel_input),
    "bridge output": _bridge_output,
    "insulation resistance": lambda world, channel_input: world.insulation_ohm(channel_input, TEST_V),
}
QUANTITIES = tuple(_AT)
