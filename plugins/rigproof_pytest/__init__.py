"""The contract kit for authors of drivers: a driver inherits nothing from it, its test inherits `DriverContract`.

The names are found when they are used, because pytest imports this package at every start.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .contract import DriverContract
    from .peer import Instrument

__all__ = ["DriverContract", "Instrument"]


def __getattr__(name: str) -> object:
    if name == "DriverContract":
        from .contract import DriverContract

        return DriverContract
    if name == "Instrument":
        from .peer import Instrument

        return Instrument
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
