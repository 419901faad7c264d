"""VISA resource names (VPP-4.3, 4.3.1; forms from memory) that carry messages, and what they need of this machine.

The names are read by rules of our own: judging a journal reads its rig again and must not need PyVISA for it.
"""

from __future__ import annotations

import os
import re
import warnings
from dataclasses import dataclass
from importlib.util import find_spec

from rigproof import serial_ports
from rigproof.documents.validation import wrong
from rigproof.instruments import Connection
from rigproof.quantities import WrittenError

from .settings import VisaSettings

SERIAL, SOCKET = "ASRL", "SOCKET"
_16_BITS = r"(?:0x[0-9A-F]{1,4}|0|[1-9]\d{0,4})"  # hexadecimal as makers print it, decimal as pyvisa-py lists it
_FORMS = {
    SERIAL: (r"ASRL(?P<port>[^:\s]+(?::[^:\s]+)*)(?:::INSTR)?", "ASRL/dev/ttyUSB0::INSTR"),
    "GPIB": (r"GPIB\d*::(?P<primary>\d+)(?:::(?P<secondary>\d+))?(?:::INSTR)?", "GPIB0::9::INSTR"),
    "USB": (
        rf"USB\d*::(?P<maker>{_16_BITS})::(?P<model>{_16_BITS})::[^:\s]+(?:::\d+)?(?:::(?:INSTR|RAW))?",
        "USB0::0x1234::0x0001::SERIAL::INSTR",
    ),
    SOCKET: (r"TCPIP\d*::(?P<host>[^:\s]+)::(?P<tcp>\d+)::SOCKET", "TCPIP::192.0.2.11::5025::SOCKET"),
    "TCPIP": (r"TCPIP\d*::[^:\s]+(?:::[^:\s]+)?(?:::INSTR)?", "TCPIP::192.0.2.11::INSTR"),
}
# What pyvisa-py, PyVISA's own library, needs on each interface: the module, and where it comes from.
# `_BELOW`: what that module needs in its turn, and the class of resource by which pyvisa-py tells whether it has it.
_NEEDS = {
    SERIAL: (("serial",), "pyserial", "pip install pyserial"),
    "USB": (("usb",), "pyusb", "pip install pyusb, and libusb from the system's packages"),
    "GPIB": (
        ("gpib", "gpib_ctypes"),
        "a GPIB library",
        "pip install gpib-ctypes, and the driver of the interface card",
    ),
}
_BELOW = {
    "USB": ("USB INSTR", "libusb", "install it from the system's packages (libusb-1.0-0 on Debian)"),
    "GPIB": ("GPIB INTFC", "the library of an interface card", "install the card's own driver"),
}


@dataclass(frozen=True)
class Resource:
    """A name that was read."""

    interface: str  # ASRL, GPIB, USB, TCPIP, or SOCKET for TCPIP::…::SOCKET
    port: str = ""  # of a serial line

    @property
    def is_stream(self) -> bool:
        """True where nothing but a terminator marks the end of a message."""
        return self.interface in {SERIAL, SOCKET}


def resource(name: str) -> Resource:
    """The resource of a VISA name that carries messages; WrittenError where it is none."""
    for interface, (form, _) in _FORMS.items():
        found = re.fullmatch(form, name, re.IGNORECASE)
        if found is None or (interface == "TCPIP" and name.upper().endswith("::SOCKET")):
            continue
        numbers = found.groupdict()
        if interface == SOCKET and not 1 <= int(numbers["tcp"]) <= 65535:
            raise WrittenError(f"port {numbers['tcp']} of {name!r} does not exist", "write 1 to 65535")
        if interface == "GPIB" and any(int(n) > 30 for n in (numbers["primary"], numbers["secondary"]) if n):
            raise WrittenError(f"{name!r} is no address on GPIB", "write 0 to 30")
        if interface == "USB" and any(int(numbers[word], 0) > 0xFFFF for word in ("maker", "model")):
            raise WrittenError(f"{name!r} has a number above 65535", "write maker and model as the device gives them")
        return Resource(interface, numbers.get("port") or "")
    forms = "; ".join(sample for _, sample in _FORMS.values())
    raise WrittenError(f"{name!r} is no VISA resource name that carries messages", f"write one such as {forms}")


def check(name: str, settings: VisaSettings) -> None:
    """Raise a fault at the key of `settings` that cannot go with a resource."""
    found = resource(name)
    if settings.line is not None and found.interface != SERIAL:
        raise wrong(("line",), f"`line` belongs to a serial line, and {name!r} is none", "leave it out", "")
    if settings.terminator == "none" and found.is_stream:
        what = f"nothing but a terminator ends a message of {name!r}"
        raise wrong(("terminator",), what, "write LF, CR or CR LF", "none")


def obstacle(name: str) -> str:
    """What this machine lacks for a resource; "" where nothing is seen to be missing."""
    found = resource(name)
    if found.interface not in _NEEDS or not _with_pyvisa_py():
        return ""  # another library brings what it needs, and has names of its own for ports
    said = []
    modules, what, remedy = _NEEDS[found.interface]
    if not any(find_spec(module) for module in modules):
        said.append(f"{found.interface} needs {what}, which is not installed here: {remedy}")
    elif found.interface in _BELOW:
        told_by, what, remedy = _BELOW[found.interface]
        if not _has(told_by):
            said.append(f"{found.interface} needs {what}, which is not found here: {remedy}")
    if found.interface == SERIAL and (here := _ports()) is not None and (told := serial_ports.absent(found.port, here)):
        said.append(told)
    return "; ".join(said)


def is_real(visa_library: str) -> bool:
    """False for a library with neither a bus, a port nor a network below: the simulated ones."""
    return visa_library.partition("@")[2] in {"", "py", "ivi"}


def hold(connection: Connection) -> serial_ports.Held | None:
    """A serial port for oneself, so that nobody else reads its bytes; OSError where another program has it."""
    port = _port(connection.resource) if is_real(connection.visa_library) else ""
    return serial_ports.hold(port)


def refusal(name: str, error: Exception) -> tuple[str, str] | None:
    """What came and what to do, where a serial port did not open; None for any other resource or error."""
    port = _port(name)
    return serial_ports.refusal(error, port, "under `line:` of its `settings:`") if port else None


def _port(name: str) -> str:
    """The port of a serial line; "" for what is none."""
    try:
        return resource(name).port
    except WrittenError:
        return ""


def _with_pyvisa_py() -> bool:
    """Whether PyVISA would take pyvisa-py: no other library is named, and none is installed."""
    named = os.environ.get("PYVISA_LIBRARY", "")
    if named:
        return named.endswith("@py")
    from pyvisa.ctwrapper.highlevel import IVIVisaLibrary

    return not IVIVisaLibrary.get_library_paths()


def _has(resource_class: str) -> bool:
    """Whether pyvisa-py can open this class of resource; it gives a list of reasons where it cannot."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of libraries that warn when they are imported; it is told here
        from pyvisa.highlevel import get_wrapper_class

        told = get_wrapper_class("py").get_debug_info()
        return not (isinstance(told, dict) and isinstance(told.get(resource_class), list))


def _ports() -> list[str] | None:
    """The serial ports of this machine; None where nobody can tell."""
    if find_spec("serial") is None:
        return None
    from serial.tools.list_ports import comports

    return sorted(port.device for port in comports())
