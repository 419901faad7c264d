"""Driver `ohmmeter`: four-wire resistance of a scanner's inputs."""

from __future__ import annotations

from typing import ClassVar

from .driver import Meter


class Ohmmeter(Meter):
    """Reads resistance in Ω; an open circuit is nan."""

    kind: ClassVar[str] = "ohmmeter"
    measure: ClassVar[str] = "MEAS:FRES?"
    gives: ClassVar[str] = "resistance"
