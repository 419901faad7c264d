"""The door: what this plugin supplies."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.instruments import Driver

from .meter import ModbusMeter
from .source import ModbusSource

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_drivers() -> list[type[Driver]]:
    """A meter and a source, described by their register maps in rig.yaml."""
    return [ModbusMeter, ModbusSource]
