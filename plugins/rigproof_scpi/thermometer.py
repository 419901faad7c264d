"""Driver `thermometer`: temperature."""

from __future__ import annotations

from typing import ClassVar

from .driver import Meter


class Thermometer(Meter):
    """Reads temperature in °C; a broken sensor is nan."""

    kind: ClassVar[str] = "thermometer"
    measure: ClassVar[str] = "MEAS:TEMP?"
    gives: ClassVar[str] = "temperature"
