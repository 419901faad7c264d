"""The simulated instruments, by the kind of driver that talks to them."""

from __future__ import annotations

import numpy as np

from rigproof.errors import UsageError
from rigproof_twin.instruments.base import SimulatedInstrument
from rigproof_twin.instruments.bridge_amplifier import BridgeAmplifier
from rigproof_twin.instruments.described import DescribedMeter, DescribedSource
from rigproof_twin.instruments.insulation_tester import InsulationTester
from rigproof_twin.instruments.ohmmeter import Ohmmeter
from rigproof_twin.instruments.pressure_source import PressureSource
from rigproof_twin.instruments.pressure_transmitter import PressureTransmitter
from rigproof_twin.instruments.thermometer import Thermometer
from rigproof_twin.interface import Appearance, World

__all__ = ["KINDS", "SimulatedInstrument", "build"]

KINDS: dict[str, type[SimulatedInstrument]] = {
    instrument.kind: instrument
    for instrument in (BridgeAmplifier, Ohmmeter, InsulationTester, PressureTransmitter, Thermometer, PressureSource)
}


def build(
    kind: str, world: World, appearance: Appearance, rng: np.random.Generator, described: object = None
) -> SimulatedInstrument:
    """A simulated instrument for the driver `kind`; `UsageError` when the twin has none.

    `described`: the command map of one that speaks by the words of rig.yaml.
    """
    if kind not in KINDS and described is None:
        raise UsageError(
            f"driver={kind!r}: the twin has no such instrument. It has: {', '.join(sorted(KINDS))}. Use one of them."
        )
    if described is not None:
        make = DescribedSource if kind.endswith(" source") else DescribedMeter
        return make(kind, described, world, appearance, rng)
    return KINDS[kind](world, appearance, rng)
