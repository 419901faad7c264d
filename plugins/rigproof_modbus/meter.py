"""Driver `modbus meter`: readings from holding or input registers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import ClassVar

import numpy as np

from rigproof.errors import NumberError
from rigproof.instruments import Connection, FloatArray, Reads, Settings

from .driver import ModbusDriver
from .settings import MeterSettings


class ModbusMeter(ModbusDriver, Reads):
    """Reads each input with one request, so that no number is put together from two moments."""

    kind: ClassVar[str] = "modbus meter"
    settings_model: ClassVar[type[Settings]] = MeterSettings

    def __init__(self, connection: Connection, settings: Settings) -> None:
        if not isinstance(settings, MeterSettings):
            raise TypeError(f"settings={settings!r}: a modbus meter takes MeterSettings")
        super().__init__(connection, settings)
        self._inputs = settings.inputs

    @classmethod
    def unreadable(cls, settings: Settings, channel_input: int, kind: str) -> str:
        """An input that the map does not have, or has in a unit of something else."""
        inputs = settings.inputs if isinstance(settings, MeterSettings) else {}
        if channel_input not in inputs:
            return f"the register map has no input {channel_input}; it has {', '.join(map(str, inputs))}"
        unit = inputs[channel_input].unit
        return "" if unit.suits(kind) else f"input {channel_input} is in {unit.text}, which is no unit of {kind}"

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        """Take the readings one by one; an instrument slower than `interval_s` stretches the interval.

        A meter has no settings to lose, so after a failed reading the next one is on a fresh connection.
        """
        if count < 1 or not 0 <= interval_s < math.inf:
            raise NumberError(
                f"count={count}, interval_s={interval_s}: one or more readings lie a finite time apart. Give both."
            )
        if not inputs or any(number not in self._inputs for number in inputs):
            raise NumberError(
                f"inputs={list(inputs)}: the register map has {', '.join(map(str, self._inputs))}. Name one or more."
            )
        clock, readings = self.connection.clock, []
        due_s = clock.now()
        for _ in range(count):
            readings.append([self._reading(number) for number in inputs])
            due_s += interval_s
            if (left_s := due_s - clock.now()) > 0:
                clock.wait(left_s)
        return np.array(readings, dtype=np.float64)

    def _reading(self, number: int) -> float:
        at = self._inputs[number]
        return at.reading(self._unit.measured(at))
