"""Simulated instruments that speak Modbus, with framing and encoding of their own, shared with no driver."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from rigproof_twin.interface import Appearance, World
from rigproof_twin.modbus.meter import Meter
from rigproof_twin.modbus.source import Source
from rigproof_twin.modbus.station import Station
from rigproof_twin.modbus.unit import SimulatedUnit

if TYPE_CHECKING:
    from rigproof.documents.rig import Instrument, Rig

__all__ = ["KINDS", "SimulatedUnit", "Station", "build"]

KINDS: dict[str, Callable[..., SimulatedUnit]] = {"modbus meter": Meter, "modbus source": Source}


def build(
    rig: Rig, instrument: Instrument, world: World, appearance: Appearance, rng: np.random.Generator
) -> SimulatedUnit:
    """A simulated unit for one instrument of the rig; `UsageError` for what the twin cannot show in registers."""
    return KINDS[instrument.driver.kind](rig, instrument, world, appearance, rng)
