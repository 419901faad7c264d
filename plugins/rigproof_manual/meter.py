"""Driver `manual meter`: a person reads a display and types what it shows."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, isnan
from typing import Annotated, ClassVar

import numpy as np
from pydantic import Field

from rigproof.documents.accuracy import Accuracy
from rigproof.errors import InstrumentError
from rigproof.instruments import Driver, FloatArray, Identity, Reads, Settings, TestsInsulation
from rigproof.quantities import Quantity, kind_of, show
from rigproof_manual.asking import ask_value, check_by_hand, identify
from rigproof_manual.display import Display


class MeterSettings(Settings):
    """The displays by input, and how often each is read where a step asks for several readings.

    A person cannot read twenty times in half a second, and one value copied twenty times would claim that it does not
    scatter. So a step that asks for more gets `readings` of them, each read and typed for itself.
    """

    inputs: Annotated[dict[int, Display], Field(min_length=1)]
    readings: Annotated[int, Field(ge=1, le=5)] = 1


class ManualMeter(Driver, Reads, TestsInsulation):
    """Any meter that is read by eye. Its resolution counts in the accuracy of its channels."""

    kind: ClassVar[str] = "manual meter"
    settings_model: ClassVar[type[Settings]] = MeterSettings
    asks_a_person: ClassVar[bool] = True
    watchable: ClassVar[bool] = False

    @classmethod
    def check_resource(cls, resource: str) -> None:
        """`by hand`."""
        check_by_hand(resource)

    @classmethod
    def most_readings(cls, settings: Settings) -> int | None:
        """As set."""
        assert isinstance(settings, MeterSettings)
        return settings.readings

    @classmethod
    def unreadable(cls, settings: Settings, channel_input: int, kind: str) -> str:
        """An input without a display, or one that stands for another quantity."""
        inputs = _inputs(settings)
        if channel_input not in inputs:
            return f"its settings have no input {channel_input}; they have {', '.join(map(str, inputs))}"
        gives = inputs[channel_input].gives
        return "" if gives == kind else f"input {channel_input} gives {gives}, and the channel reads {kind}"

    @classmethod
    def stated_accuracy(cls, settings: Settings, channel_input: int) -> Accuracy | None:
        """The resolution of the display."""
        display = _inputs(settings).get(channel_input)
        if display is None:
            return None
        kind = kind_of(display.gives).difference
        step = display.resolution.value * display.per_shown
        return Accuracy(resolution=Quantity(step, kind, show(step, kind)))

    @classmethod
    def displayed(cls, settings: Settings, channel_input: int, reading: float) -> str:
        """As it was typed: a strain indicator is read in µε, whatever the channel reads."""
        display = _inputs(settings).get(channel_input)
        return display.shown(reading / display.per_shown) if display else ""

    def open(self) -> Identity:
        """Ask for the serial number on its plate."""
        return identify(self.connection.person, self.connection.name, "its plate")

    def close(self) -> None:
        """Nothing to let go of."""

    def errors(self) -> list[str]:
        """A display has no error queue."""
        return []

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:  # noqa: ARG002  at its own pace
        """Have each input read `count` times, one input after the other, at the person's own pace."""
        readings = np.empty((count, len(inputs)))
        for row in range(count):
            beforehand = f"Reading {row + 1} of {count}. " if count > 1 else ""
            for column, number in enumerate(inputs):
                readings[row, column] = self._ask(number, beforehand)
        return readings

    def insulation_ohm(self, channel_input: int, test_voltage_v: float, electrification_s: float) -> float:
        """Have the tester's reading typed; `overload` is a resistance above its range."""
        ohm = self._ask(
            channel_input,
            f"Test at {abs(test_voltage_v):g} V, {'plus' if test_voltage_v > 0 else 'minus'} on the gauge and "
            f"{'minus' if test_voltage_v > 0 else 'plus'} on the part; read after {electrification_s:g} s, then "
            "discharge. Where it reads above its range, type `overload`. ",
        )
        return inf if isnan(ohm) else ohm

    def _ask(self, channel_input: int, beforehand: str) -> float:
        display = _inputs(self.settings).get(channel_input)
        name = self.connection.name
        if display is None:
            known = ", ".join(map(str, _inputs(self.settings)))
            raise InstrumentError(name, f"input={channel_input}: its settings have no such input; they have {known}")
        return ask_value(self.connection.person, name, str(channel_input), display, beforehand) * display.per_shown


def _inputs(settings: Settings) -> dict[int, Display]:
    assert isinstance(settings, MeterSettings)
    return settings.inputs
