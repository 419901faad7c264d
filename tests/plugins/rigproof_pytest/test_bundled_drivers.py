"""Every bundled SCPI driver under the contract kit, over real sockets, with the twin's instruments as healthy ones."""

from __future__ import annotations

import struct
from typing import ClassVar

from rigproof_pytest import DriverContract
from rigproof_pytest.twin import IDENTITY, TwinInstrument
from rigproof_scpi import plugin
from rigproof_scpi.bridge_amplifier import BridgeAmplifier
from rigproof_scpi.described_meter import DescribedMeter
from rigproof_scpi.described_source import DescribedSource
from rigproof_scpi.insulation_tester import InsulationTester
from rigproof_scpi.ohmmeter import Ohmmeter
from rigproof_scpi.pressure_source import PressureSource
from rigproof_scpi.pressure_transmitter import PressureTransmitter
from rigproof_scpi.thermometer import Thermometer


def block(*values: float) -> bytes:
    """A definite-length block of big-endian doubles (IEEE 488.2, 8.7.9), by the standard library."""
    data = struct.pack(f">{len(values)}d", *values)
    length = str(len(data))
    return f"#{len(length)}{length}".encode() + data


class Scpi(DriverContract):
    """What all SCPI instruments have in common (MESSAGES.md)."""

    identity = IDENTITY
    error_queue: ClassVar = {"SYST:ERR?": ('-113,"Undefined header"', '-222,"Data out of range"')}

    def instrument(self) -> TwinInstrument:
        return TwinInstrument(self.driver.kind, self.clock)


class TestBridgeAmplifier(Scpi):
    driver = BridgeAmplifier
    settings: ClassVar = {"excitation": "5 V"}
    excitation = "5 V"
    sends = ("SOUR:VOLT 5,(@1)",)
    otherwise: ClassVar = ({"excitation": "2.5 V"}, ("SOUR:VOLT 2.5,(@1)",))
    inputs = (1, 2)
    measures = "bridge output"
    shows: ClassVar = {1: "0.125 mV/V", 2: "-35 µV/V"}
    readings: ClassVar = {block(1.25e-4): "0.125 mV/V", block(-3.5e-5): "-35 µV/V"}
    overloads = (block(9.9e37), block(-9.9e37), block(9.91e37))


class TestOhmmeter(Scpi):
    driver = Ohmmeter
    inputs = (1, 3, 2)
    measures = "resistance"
    shows: ClassVar = {1: "350 Ω", 3: "107.79 Ω", 2: "350.5 Ω"}
    readings: ClassVar = {"3.500000000E+02": "350 Ω", "+1.0779E2": "107.79 Ω", "1.2E3": "1.2 kΩ"}
    overloads = ("9.9E37", "9.91E37")


class TestInsulationTester(Scpi):
    driver = InsulationTester
    measures = "insulation resistance"
    readings: ClassVar = {"2.000000000E+10": "20 GΩ", "5E7": "50 MΩ"}
    overloads = ("9.9E37",)
    refusals = ("9.91E37", "-9.9E37")


class TestPressureTransmitter(Scpi):
    driver = PressureTransmitter
    measures = "gauge pressure"
    readings: ClassVar = {"0.000000000E+00": "0 bar", "3.575E6": "35.75 bar", "-250": "-2.5 mbar"}
    overloads = ("9.9E37", "9.91E37")


class TestThermometer(Scpi):
    driver = Thermometer
    measures = "temperature"
    readings: ClassVar = {"2.000000000E+01": "20 °C", "-5.5": "267.65 K"}
    overloads = ("9.9E37", "9.91E37")


class TestPressureSource(Scpi):
    driver = PressureSource
    rise = ("10 bar", "0.5 bar/s")
    moving: ClassVar = {"STAT:OPER:COND?": "2"}


def test_no_bundled_driver_is_left_out() -> None:
    tried = {each.driver for each in Scpi.__subclasses__()}
    described = {DescribedMeter, DescribedSource}  # rigproof_scpi/test_described_contract.py
    assert tried | described == set(plugin.rigproof_drivers())
