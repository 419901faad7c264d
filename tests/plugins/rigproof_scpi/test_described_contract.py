"""Described instruments keep the contract of drivers: late, cut, garbled and foreign replies, units, the safe state."""

from __future__ import annotations

import math
from typing import ClassVar

from rigproof.clock import Clock
from rigproof.instruments import NOT_ASKED, Identity
from rigproof_pytest import DriverContract, Instrument
from rigproof_scpi.described_meter import DescribedMeter
from rigproof_scpi.described_source import DescribedSource


class TestDescribedMeter(DriverContract):
    driver = DescribedMeter
    settings: ClassVar = {
        "terminator": "CR LF",
        "quantity": "temperature",
        "unit": "K",
        "scale": "0.1",
        "identity": {"ask": "ID?", "reply": "{maker}/{model}/{serial number}/{firmware}"},
        "error": {"ask": "ERR?", "none": "0", "some": "1* *"},
        "read": {"ask": "T{input}?", "reply": "T{input}={value} dK", "overload": "T{input}=OPEN"},
    }
    message_end = reply_end = "\r\n"
    identity = Identity("Test bay", "thermometer", "T-0031", "1.0")
    inputs = (1, 3)
    measures = "temperature"
    shows: ClassVar = {1: "294.65 K", 3: "295.15 K"}
    readings: ClassVar = {"T1=2946.5 dK": "21.5 °C", "T1= 2700 dK": "270 K"}
    overloads = ("T1=OPEN", "T1=9.9E37 dK")
    refusals = ("ERROR 3", "T1=2946.5 dC", "T1=dK")
    error_queue: ClassVar = {"ERR?": ("12 SENSOR", "13 LATE")}

    def instrument(self) -> dict[str, str | bytes]:
        told: dict[str, str | bytes] = {"ID?": "Test bay/thermometer/T-0031/1.0", "ERR?": "0"}
        return told | {"T1?": "T1=2946.5 dK", "T3?": "T3=2951.5 dK"}


class TestDescribedMeterThatGreets(TestDescribedMeter):
    settings: ClassVar = {**TestDescribedMeter.settings, "greeting": "METER * READY"}
    greeting = "METER 2.0 READY"


class PumpOnTheBench(Instrument):
    """GOTO in kPa, RAMP in kPa/s; STOP and VENT make it safe."""

    ramp, goal, shut = "1", "0", False

    def answer(self, message: str) -> str | None:
        word, _, number = message.partition(" ")
        if message == "RUN":
            self.energized = True
        elif message == "VENT":
            self.energized = False
        elif word == "RAMP" and number:
            self.ramp, self.rate = number, float(number) * 1e3
        elif word == "GOTO" and number:
            self.goal, self.target = number, float(number) * 1e3
        elif message in {"SHUT", "OPEN"}:
            self.shut = message == "SHUT"
        return {
            "FAULT": "NONE",
            "RAMP": self.ramp,
            "GOTO": self.goal,
            "STATE": "IDLE",
            "MODE": "LOADED" if self.energized else "VENTED",
            "VALVE": "SHUT" if self.shut else "OPEN",
        }.get(message)


class TestDescribedSource(DriverContract):
    driver = DescribedSource
    settings: ClassVar = {
        "terminator": "CR",
        "quantity": "gauge pressure",
        "unit": "kPa",
        "identity": "cannot say",
        "error": {"ask": "FAULT", "none": "NONE", "some": "1* *"},
        "rate": {"send": "RAMP {rate}", "unit": "kPa/s", "ask": "RAMP", "reply": "{rate}"},
        "target": {"send": "GOTO {value}", "ask": "GOTO", "reply": "{value}"},
        "start": "RUN",
        "settled": {"ask": "STATE", "is": "IDLE", "is not": "MOVING"},
        "safe": {"send": ["STOP", "VENT"], "ask": "MODE", "is": "VENTED", "is not": "LOADED"},
        "isolate": {"send": "SHUT", "send back": "OPEN", "ask": "VALVE", "is": "SHUT", "is not": "OPEN"},
    }
    message_end = reply_end = "\r"
    identity = Identity("", "", "", NOT_ASKED)
    error_queue: ClassVar = {"FAULT": ("17 TOO FAST", "18 HOT")}
    rise = ("10 bar", "0.5 bar/s")
    moving: ClassVar = {"STATE": "MOVING"}

    def instrument(self) -> PumpOnTheBench:
        return PumpOnTheBench()


class PressOnTheBench(PumpOnTheBench):
    """TURN in degrees moves its lower platen 50° a second, always by the way up; ANGLE says where it stands."""

    def __init__(self, clock: Clock) -> None:
        super().__init__()
        self.rotated, self._from, self._to, self._began, self._clock = 0.0, 0.0, 0.0, 0.0, clock

    def answer(self, message: str) -> str | None:
        since_s = self._clock.now() - self._began
        stands = min(self._to, self._from + 50.0 * since_s) if self._to > self._from else self._to
        self.rotated = math.radians(stands)
        if message.startswith("TURN "):
            self._from, self._to, self._began = stands, float(message[5:]), self._clock.now()
        return f"{stands:.1f} DEG" if message == "ANGLE" else super().answer(message)


class TestDescribedSourceThatRotates(TestDescribedSource):
    settings: ClassVar = {
        **TestDescribedSource.settings,
        "rotate": {"send": "TURN {value}", "ask": "ANGLE", "reply": "{value} DEG"},
    }

    def instrument(self) -> PressOnTheBench:
        return PressOnTheBench(self.clock)
