"""Why an instrument does not answer: name, address, port, terminator or baud rate, told by an identity query alone."""

from __future__ import annotations

import errno
import socket
from contextlib import suppress
from typing import TYPE_CHECKING

from rigproof.instruments import Connection

from . import replies
from .session import set_line
from .settings import Line, VisaSettings

if TYPE_CHECKING:
    from pyvisa.resources import MessageBasedResource

TERMINATORS = {"LF": b"\n", "CR": b"\r", "CR LF": b"\r\n"}
PATIENCE_S = 1.0  # for each query; an instrument says who it is at once
_LONGEST = 512
_NAME_WRONG = "correct `resource:` in rig.yaml, or the network's names"


def diagnose(connection: Connection, settings: VisaSettings) -> str:
    """What stands in the way, with its remedy. Asks `*IDN?` with each terminator on a connection of its own."""
    if told := network(connection):
        return told
    came: dict[str, bytes] = {}
    for name, terminator in TERMINATORS.items():
        try:
            came[name] = _asked(connection, settings.line or Line(), terminator)
        except Exception:  # whatever a backend lets out: the open itself has told it
            return ""
        if came[name]:
            return _of_reply(connection, settings.terminator, name, came[name])
    return (
        "connected, and silent to *IDN? with LF, CR or CR LF at its end: see that the instrument is on and in remote "
        "operation, that this is its port, and on a serial line that baud rate and wires agree"
    )


def network(connection: Connection) -> str:
    """What keeps a raw socket from being opened; "" where nothing does, or where the resource is none."""
    from pyvisa import rname

    if connection.visa_library.partition("@")[2] not in {"", "py", "ivi"}:
        return ""  # no network below
    with suppress(rname.InvalidResourceName):
        where = rname.ResourceName.from_string(connection.resource)
        if isinstance(where, rname.TCPIPSocket):
            return _reach(where.host_address, int(where.port), min(connection.timeout_s, 5.0))
    return ""


def _reach(host: str, port: int, patience_s: float) -> str:
    try:
        socket.create_connection((host, port), timeout=patience_s).close()
    except socket.gaierror:
        return f"the name {host!r} cannot be resolved: {_NAME_WRONG}"
    except ConnectionRefusedError:
        return (
            f"connection refused: {host} is there, but nothing listens on port {port}: see that the instrument's "
            "socket service is on, and its port"
        )
    except TimeoutError:
        return f"{host} does not answer within {patience_s:g} s: see that it is on, its cable, address and firewall"
    except OSError as error:
        if error.errno in {errno.EHOSTUNREACH, errno.ENETUNREACH}:
            return f"no way to {host}: host or network unreachable; see cable, address and network settings"
        return f"{host}: {error.strerror or error}"
    return ""


def _asked(connection: Connection, line: Line, terminator: bytes) -> bytes:
    """All that comes of one identity query, as it comes."""
    import pyvisa
    from pyvisa.resources import MessageBasedResource, SerialInstrument

    resource = pyvisa.ResourceManager(connection.visa_library).open_resource(connection.resource)
    try:
        if not isinstance(resource, MessageBasedResource):
            return b""
        resource.timeout = round(1000 * min(connection.timeout_s, PATIENCE_S))
        if isinstance(resource, SerialInstrument):
            set_line(resource, line)
        resource.write_raw(b"*IDN?" + terminator)
        return _all(resource)
    finally:
        resource.close()


def _all(resource: MessageBasedResource) -> bytes:
    """Byte by byte up to LF, or until no more come: nothing is known yet of how a reply ends."""
    reply = b""
    with suppress(Exception):  # a time-out ends it
        while len(reply) < _LONGEST and not reply.endswith(b"\n"):
            byte = resource.read_bytes(1)
            if not byte:
                break
            reply += byte
    return reply


def _of_reply(connection: Connection, written: str, asked_with: str, reply: bytes) -> str:
    """What a reply tells that the driver could not read."""
    text = reply.rstrip(b"\r\n")
    if not all(0x20 <= byte < 0x7F for byte in text):
        shown = repr(reply[:40])[1:]
        if connection.resource.lower().startswith("asrl"):
            return f"garbage ({shown}): wrong baud rate, parity or number of bits; write `line:` as the instrument's is"
        return f"garbage ({shown}): no text; another service or protocol answers at this address"
    ends = next((name for name in ("CR LF", "LF", "CR") if reply.endswith(TERMINATORS[name])), "nothing")
    said = f"{text.decode('ascii')[:60]!r}"
    if (asked_with, ends) != (written, written):
        remedy = f"write `terminator: {ends}` under `settings:`, or set" if asked_with == ends else "set"
        return (
            f"wrong terminator: {said} answers to {asked_with} and ends with {ends}; messages end with {written} "
            f"here: {remedy} the instrument to {written}"
        )
    with suppress(ValueError):
        replies.identity(text.decode("ascii"))
        return f"{said} answers now: it was slow or busy; give a longer `timeout:` in rig.yaml"
    return f"{said} answers to *IDN?, which is no identity (maker, model, serial number, firmware): another device"
