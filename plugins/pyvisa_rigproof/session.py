"""One open resource: its exchange with the instrument and its VISA attributes."""

from __future__ import annotations

from math import inf
from threading import RLock
from typing import TYPE_CHECKING, Any

from pyvisa import constants, rname
from pyvisa.attributes import AllSessionTypes, AttributesPerResource, NotAvailable
from pyvisa.constants import InterfaceType, ResourceAttribute, SerialTermination, StatusCode

if TYPE_CHECKING:
    from rigproof_twin.wire import Exchange

_SERIAL = InterfaceType.asrl


class Session:
    """What reading and writing needs is kept as plain fields, worked out anew whenever an attribute changes."""

    __slots__ = ("_known", "_serial", "_values", "exchange", "is_bus", "lock", "patience_s", "sends_end", "stop")

    def __init__(self, name: rname.ResourceName, exchange: Exchange, lock: RLock, manager: int) -> None:
        self.exchange = exchange
        self.lock = lock  # of the bench
        self.is_bus = carries_end(name)
        self._serial = name.interface_type_const is _SERIAL
        key = (name.interface_type_const, name.resource_class)
        self._known = {a.attribute_id: a for a in AttributesPerResource[key] | AttributesPerResource[AllSessionTypes]}
        self._values: dict[int, Any] = {
            ResourceAttribute.resource_name: str(name),
            ResourceAttribute.resource_class: name.resource_class,
            ResourceAttribute.interface_type: name.interface_type_const,
            ResourceAttribute.resource_manager_session: manager,
            ResourceAttribute.suppress_end_enabled: not self.is_bus,
        }
        self.stop: int | None = None  # the byte that ends a read
        self.patience_s = 0.0
        self.sends_end = True
        self._work_out()

    def get(self, attribute: int) -> tuple[Any, StatusCode]:
        """Value of an attribute and how asking for it went."""
        if attribute in self._values:
            return self._values[attribute], StatusCode.success
        default = getattr(self._known.get(attribute), "default", NotAvailable)
        if default is NotAvailable:
            return None, StatusCode.error_nonsupported_attribute
        return default, StatusCode.success

    def set(self, attribute: int, value: Any) -> StatusCode:
        """Set an attribute."""
        if attribute not in self._known:
            return StatusCode.error_nonsupported_attribute
        if not self._known[attribute].write:
            return StatusCode.error_attribute_read_only
        self._values[attribute] = value
        self._work_out()
        return StatusCode.success

    def _work_out(self) -> None:
        timeout_ms = self.get(ResourceAttribute.timeout_value)[0]
        self.patience_s = inf if timeout_ms == constants.VI_TMO_INFINITE else timeout_ms / 1000
        self.sends_end = bool(self.get(ResourceAttribute.send_end_enabled)[0])
        enabled = self.get(ResourceAttribute.termchar_enabled)[0]
        if self._serial:  # by default a serial read stops at the termination character, enabled or not
            enabled |= self.get(ResourceAttribute.asrl_end_in)[0] == SerialTermination.termination_char
        else:
            self.exchange.ends = not self.get(ResourceAttribute.suppress_end_enabled)[0]
        self.stop = self.get(ResourceAttribute.termchar)[0] if enabled else None


def carries_end(name: rname.ResourceName) -> bool:
    """True where messages carry END; raw sockets and serial lines are bare bytes."""
    return name.resource_class != "SOCKET" and name.interface_type_const is not _SERIAL
