"""`resource:` of a Modbus instrument: `tcp://192.0.2.20:502`, `serial:///dev/ttyUSB0?baud rate=19200&parity=even`."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from rigproof.quantities import WrittenError, did_you_mean

TCP_PORT = 502  # registered for Modbus (MODBUS Messaging on TCP/IP Implementation Guide V1.0b, 4.3)
BAUDS = ("1200", "2400", "4800", "9600", "19200", "38400", "57600", "115200")
PARITIES = {"even": "E", "odd": "O", "none": "N"}
STOP_BITS = ("1", "2")

_TCP = re.compile(r"tcp://(\[[0-9a-fA-F:.]+\]|[A-Za-z0-9._-]+)(?::([0-9]{1,5}))?")
_SERIAL = re.compile(r"serial://(/[^?]+|[A-Za-z]+[0-9]+)(?:\?(.*))?")
_FORMS = "write tcp://192.0.2.20:502 or serial:///dev/ttyUSB0?baud rate=19200&parity=even"


@dataclass(frozen=True)
class Tcp:
    """A host and a port."""

    host: str
    port: int


@dataclass(frozen=True)
class Serial:
    """A serial port; 8 data bits, as RTU needs. The defaults are the standard's (Serial Line V1.02, 2.5.1)."""

    device: str
    baud: int = 19200
    parity: Literal["E", "O", "N"] = "E"
    stop_bits: int = 1

    @property
    def runs(self) -> str:
        """How its line runs, in words."""
        parity = next(word for word, letter in PARITIES.items() if letter == self.parity)
        return f"{self.baud} baud, parity {parity}, stop bits {self.stop_bits}"


def parse_resource(text: str) -> Tcp | Serial:
    """Where an instrument is; a WrittenError says what is wrong."""
    if found := _TCP.fullmatch(text):
        port = int(found[2] or TCP_PORT)
        if not 1 <= port <= 65535:
            raise WrittenError(f"port {port} of {text!r} does not exist", "write 1 to 65535, mostly 502")
        return Tcp(found[1].strip("[]"), port)
    if found := _SERIAL.fullmatch(text):
        return _serial(found[1], found[2])
    raise WrittenError(f"{text!r} is no place of a Modbus instrument", _FORMS)


def _serial(device: str, options: str | None) -> Serial:
    allowed: dict[str, tuple[str, ...]] = {"baud rate": BAUDS, "parity": tuple(PARITIES), "stop bits": STOP_BITS}
    given: dict[str, str] = {}
    for option in options.split("&") if options else ():
        key, _, value = option.partition("=")
        if key not in allowed:
            raise WrittenError(f"{key!r} is no setting of a serial line", did_you_mean(key, allowed))
        if key in given:
            raise WrittenError(f"{key!r} is set twice", "write it once")
        if value not in allowed[key]:
            raise WrittenError(f"{key}={value}: {value!r} is not possible", f"write one of {', '.join(allowed[key])}")
        given[key] = value
    parity = given.get("parity", "even")
    # The standard asks for a second stop bit in the place of a missing parity bit (Serial Line V1.02, 2.5.1).
    stop_bits = given.get("stop bits", "2" if parity == "none" else "1")
    letter = {"even": "E", "odd": "O", "none": "N"}[parity]
    return Serial(device, int(given.get("baud rate", "19200")), letter, int(stop_bits))  # type: ignore[arg-type]
