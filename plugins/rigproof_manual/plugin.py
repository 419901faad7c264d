"""What this package brings in by rigproof's door."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.instruments import Driver
from rigproof_manual.meter import ManualMeter
from rigproof_manual.source import ManualSource

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_drivers() -> list[type[Driver]]:
    """A meter that is read by hand, and weights that are placed by hand."""
    return [ManualMeter, ManualSource]
