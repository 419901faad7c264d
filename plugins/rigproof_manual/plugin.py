"""What this package brings in by rigproof's door."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.instruments import Driver
from rigproof_manual.meter import ManualMeter
from rigproof_manual.rotation import ManualRotation
from rigproof_manual.source import ManualSource

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_drivers() -> list[type[Driver]]:
    """A meter that is read by hand, weights that are placed by hand, and a part that is rotated by hand."""
    return [ManualMeter, ManualSource, ManualRotation]
