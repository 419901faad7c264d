"""VISA resource names (VPP-4.3, 4.3.1; forms from memory) that carry messages, and what they need of this machine.

The names are read by rules of our own: judging a journal reads its rig again and must not need PyVISA for it.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from rigproof.instruments import Line, Problem

SERIAL, SOCKET = "ASRL", "SOCKET"
_FORMS = {
    SERIAL: (r"ASRL(?P<port>[^:\s]+)(?:::INSTR)?", "ASRL/dev/ttyUSB0::INSTR"),
    "GPIB": (r"GPIB\d*::(?P<primary>\d+)(?:::(?P<secondary>\d+))?(?:::INSTR)?", "GPIB0::9::INSTR"),
    "USB": (
        r"USB\d*::0x[0-9A-F]{1,4}::0x[0-9A-F]{1,4}::[^:\s]+(?:::\d+)?(?:::(?:INSTR|RAW))?",
        "USB0::0x1234::0x0001::SERIAL::INSTR",
    ),
    SOCKET: (r"TCPIP\d*::(?P<host>[^:\s]+)::(?P<tcp>\d+)::SOCKET", "TCPIP::192.0.2.11::5025::SOCKET"),
    "TCPIP": (r"TCPIP\d*::[^:\s]+(?:::[^:\s]+)?(?:::INSTR)?", "TCPIP::192.0.2.11::INSTR"),
}
# What pyvisa-py, PyVISA's own library, needs on each interface: the module, and where it comes from.
_NEEDS = {
    SERIAL: (("serial",), "pyserial", "pip install pyserial"),
    "USB": (("usb",), "pyusb", "pip install pyusb, and libusb from the system's packages"),
    "GPIB": (
        ("gpib", "gpib_ctypes"),
        "a GPIB library",
        "pip install gpib-ctypes, and the driver of the interface card",
    ),
}
_WORDS = ("baud_rate", "data_bits", "parity", "stop_bits", "flow_control")


@dataclass(frozen=True)
class Resource:
    """A name that was read."""

    interface: str  # ASRL, GPIB, USB, TCPIP, or SOCKET for TCPIP::…::SOCKET
    port: str = ""  # of a serial line

    @property
    def is_stream(self) -> bool:
        """True where nothing but a terminator marks the end of a message."""
        return self.interface in {SERIAL, SOCKET}


def resource(name: str) -> Resource | None:
    """The resource of a VISA name that carries messages; None where it is none."""
    for interface, (form, _) in _FORMS.items():
        found = re.fullmatch(form, name, re.IGNORECASE)
        if found is None or (interface == "TCPIP" and name.upper().endswith("::SOCKET")):
            continue
        numbers = found.groupdict()
        if interface == SOCKET and not 1 <= int(numbers["tcp"]) <= 65535:
            return None
        if interface == "GPIB" and any(int(n) > 30 for n in (numbers["primary"], numbers["secondary"]) if n):
            return None
        return Resource(interface, numbers.get("port") or "")
    return None


def problems(name: str, line: Line) -> Iterator[Problem]:
    """What is wrong with a resource name, and with the keys of its `line`."""
    found = resource(name)
    if found is None:
        forms = "; ".join(sample for _, sample in _FORMS.values())
        yield Problem(
            ("resource",), f"{name!r} is no VISA resource name that carries messages", f"write one such as {forms}"
        )
        return
    written = line.model_fields_set
    if found.interface != SERIAL:
        for word in _WORDS:
            if word in written:
                key = word.replace("_", " ")
                yield Problem(("line", key), f"{key!r} belongs to a serial line, and {name!r} is none", "leave it out")
    if not found.is_stream and "terminator" in written:
        yield Problem(("line", "terminator"), f"messages of {name!r} carry their own end", "leave the terminator out")


def obstacles(name: str) -> Sequence[str]:
    """What this machine lacks for a resource, unless another VISA library than pyvisa-py is in use."""
    found = resource(name)
    if found is None:
        return ()
    said = []
    modules, what, remedy = _NEEDS.get(found.interface, ((), "", ""))
    if modules and _with_pyvisa_py() and not any(find_spec(module) for module in modules):
        said.append(f"{found.interface} needs {what}, which is not installed here: {remedy}")
    if found.interface == SERIAL and (here := _ports()) is not None and not _is_port(found.port, here):
        listed = ", ".join(here) or "none"
        said.append(f"no serial port {found.port!r} on this machine (here: {listed}): plug it in or correct the name")
    return said


def _with_pyvisa_py() -> bool:
    """Whether PyVISA would take pyvisa-py: no other library is named, and none is installed."""
    named = os.environ.get("PYVISA_LIBRARY", "")
    if named:
        return named.endswith("@py")
    from pyvisa.ctwrapper.highlevel import IVIVisaLibrary

    return not IVIVisaLibrary.get_library_paths()


def _ports() -> list[str] | None:
    """The serial ports of this machine; None where nobody can tell."""
    if find_spec("serial") is None:
        return None
    from serial.tools.list_ports import comports

    return sorted(port.device for port in comports())


def _is_port(port: str, here: Sequence[str]) -> bool:
    """By its name, by the path of a device, or by the number of a COM port."""
    return port in here or f"COM{port}" in here or (port.startswith("/") and Path(port).exists())
