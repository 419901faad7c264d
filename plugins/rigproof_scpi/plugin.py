"""The door: what this plugin supplies."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.instruments import Driver

from .bridge_amplifier import BridgeAmplifier
from .described_meter import DescribedMeter
from .described_source import DescribedSource
from .insulation_tester import InsulationTester
from .ohmmeter import Ohmmeter
from .pressure_source import PressureSource
from .pressure_transmitter import PressureTransmitter
from .thermometer import Thermometer

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_drivers() -> list[type[Driver]]:
    """One driver for each instrument of MESSAGES.md, and two for instruments described in rig.yaml."""
    spoken = [BridgeAmplifier, Ohmmeter, InsulationTester, PressureTransmitter, Thermometer, PressureSource]
    return [*spoken, DescribedMeter, DescribedSource]
