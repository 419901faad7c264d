"""Driver `pressure transmitter`: gauge pressure on the part, independent of the source."""

from __future__ import annotations

from typing import ClassVar

from .driver import Meter


class PressureTransmitter(Meter):
    """Reads gauge pressure in Pa; overload is nan."""

    kind: ClassVar[str] = "pressure transmitter"
    measure: ClassVar[str] = "MEAS:PRES?"
    gives: ClassVar[str] = "gauge pressure"
