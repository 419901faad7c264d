"""What both drivers share: a unit, and what can be told of them before any hardware."""

from __future__ import annotations

from rigproof.instruments import Connection, Driver, Identity

from .client import missing_library
from .resource import parse_resource
from .settings import ModbusSettings
from .unit import Unit


class ModbusDriver(Driver):
    """A driver that reads and writes the registers of one unit."""

    def __init__(self, connection: Connection, settings: ModbusSettings) -> None:
        super().__init__(connection, settings)
        self._unit = Unit(connection, settings)

    @classmethod
    def check_resource(cls, resource: str) -> None:
        """`tcp://…` or `serial://…`."""
        parse_resource(resource)

    @classmethod
    def obstacle(cls, resource: str) -> str:  # noqa: ARG003  whatever the line, the library is the same
        """Pymodbus comes with the extra `modbus`."""
        return missing_library()

    def open(self) -> Identity:
        """Connect; ask for the identity where the instrument has one."""
        return self._unit.open()

    def look(self) -> Identity:
        """The same: opening it writes nothing."""
        return self.open()

    def close(self) -> None:
        """Let go of the line."""
        self._unit.close()

    def errors(self) -> list[str]:
        """Modbus knows no error queue: every fault came as the reply to its request."""
        return []
