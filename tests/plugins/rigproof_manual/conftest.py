"""A person who answers from a list, and the displays and weights they work with."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rigproof.clock import WallClock
from rigproof.errors import InstrumentError
from rigproof.instruments import Connection
from rigproof.people import Question
from rigproof_manual.display import Display
from rigproof_manual.meter import ManualMeter, MeterSettings
from rigproof_manual.rotation import ManualRotation, RotationSettings
from rigproof_manual.source import ManualSource, SourceSettings


class Listed:
    """A `rigproof.people.Person` with the answers of a test; at their end nobody answers any more."""

    name = "A. Tester"

    def __init__(self, *answers: str) -> None:
        self.answers = list(answers)
        self.asked: list[Question] = []
        self.told: list[str] = []

    def ask(self, question: Question) -> str:
        self.asked.append(question)
        if not self.answers:
            raise InstrumentError(question.instrument, "no answer")
        return self.answers.pop(0)

    def tell(self, instrument: str, text: str) -> None:
        self.told.append(text)


INDICATOR = {
    "label": "strain indicator, channel 1",
    "reads": "strain",
    "unit": "µε",
    "gauge factor set": "2.00",
    "resolution": "1 µε",
    "lowest": "-3000 µε",
    "highest": "3000 µε",
}
THERMOMETER = {
    "label": "thermometer",
    "reads": "temperature",
    "unit": "°C",
    "resolution": "0.1 K",
    "lowest": "10 °C",
    "highest": "40 °C",
}


@pytest.fixture
def written() -> dict[str, str]:
    return dict(INDICATOR)


@pytest.fixture
def indicator() -> Display:
    return Display.model_validate(INDICATOR)


@pytest.fixture
def thermometer() -> Display:
    return Display.model_validate(THERMOMETER)


@pytest.fixture
def meter() -> Callable[..., ManualMeter]:
    def make(*answers: str, readings: int = 1) -> ManualMeter:
        settings = MeterSettings.model_validate({"inputs": {"1": INDICATOR, "2": THERMOMETER}, "readings": readings})
        return ManualMeter(Connection("indicator", "", "", 1.0, WallClock(), person=Listed(*answers)), settings)

    return make


@pytest.fixture
def source() -> Callable[..., ManualSource]:
    def make(*answers: str) -> ManualSource:
        settings = SourceSettings.model_validate({"weights": {"A": "2 kg ± 0.1 %", "B": "2 kg", "C": "500 g"}})
        made = ManualSource(
            Connection("weights", "", "", 1.0, WallClock(), person=Listed("D-1", "", *answers)), settings
        )
        made.open()
        return made

    return make


@pytest.fixture
def rotation() -> Callable[..., ManualRotation]:
    def make(*answers: str) -> ManualRotation:
        connection = Connection("turntable", "by hand", "", 1.0, WallClock(), person=Listed(*answers))
        return ManualRotation(connection, RotationSettings(mark="the line"))

    return make
