"""What both drivers share: a unit, and what can be told of them before any hardware."""

from __future__ import annotations

from rigproof.instruments import Connection, Driver, Identity
from rigproof.serial_ports import Port, absent

from .client import missing_library, ports
from .resource import Serial, parse_resource
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
    def serial_port(cls, resource: str) -> Port | None:
        """The port of `serial://…`, which units share that agree in how the line runs."""
        where = parse_resource(resource)
        return Port(where.device, "Modbus RTU", where.runs) if isinstance(where, Serial) else None

    @classmethod
    def obstacle(cls, resource: str) -> str:
        """Pymodbus comes with the extra `modbus`; a serial port must be there."""
        where = parse_resource(resource)
        return missing_library() or (absent(where.device, ports()) if isinstance(where, Serial) else "")

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
