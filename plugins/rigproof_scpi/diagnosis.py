"""Why an instrument does not answer: name, address, port, terminator or baud rate, told by an identity query alone.

An instrument that only talks is asked nothing: what is heard of it tells.
"""

from __future__ import annotations

import errno
import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigproof.instruments import Connection

from . import replies, resources
from .session import set_line
from .settings import Line, VisaSettings

if TYPE_CHECKING:
    from pyvisa.resources import MessageBasedResource

TERMINATORS = {"LF": b"\n", "CR": b"\r", "CR LF": b"\r\n"}
PATIENCE_S = 1.0  # for each query; an instrument says who it is at once
_LONGEST = 512
_NAME_WRONG = "correct `resource:` in rig.yaml, or the network's names"


@dataclass(frozen=True)
class Question:
    """How an instrument is asked who it is; harmless at any time."""

    ask: str
    parse: Callable[[bytes], object]  # ValueError for what is no reply to it
    unlike: str  # what to say of such a reply
    greets: bool = False  # a line comes unasked after connecting, and is no reply


IDN = Question(
    "*IDN?",
    lambda reply: replies.identity(reply.decode("ascii")),
    "which is no identity (maker, model, serial number, firmware): another device",
)


def diagnose(connection: Connection, settings: VisaSettings, question: Question = IDN) -> str:
    """What stands in the way, with its remedy. Asks who is there with each terminator, on a connection of its own."""
    if told := before_it(connection):
        return told
    try:
        for name, terminator in TERMINATORS.items():
            if reply := _asked(connection, settings, question, terminator, after_others=name != "LF"):
                ends = _end_of(reply)
                if ends != name and ends in TERMINATORS:
                    both = _asked(connection, settings, question, TERMINATORS[ends])
                    return _of_reply(connection, settings.terminator, question, ends if both else name, reply)
                return _of_reply(connection, settings.terminator, question, name, reply)
    except Exception:  # whatever a backend lets out: the open itself has told it
        return ""
    return (
        f"connected, and silent to {question.ask} with LF, CR or CR LF at its end: see that the instrument is on and "
        "in remote operation, that this is its port, and on a serial line that baud rate and wires agree"
    )


def diagnose_talker(connection: Connection, settings: VisaSettings) -> str:
    """What stands in the way of an instrument that sends lines without being asked."""
    if told := before_it(connection):
        return told
    try:
        heard = _asked(connection, settings, None, b"")
    except Exception:  # as above
        return ""
    return _of_heard(connection, settings.terminator, heard)


def before_it(connection: Connection) -> str:
    """What stands in the way before the instrument: a library, a serial port, a name, an address; "" for nothing."""
    from pyvisa import rname

    if connection.visa_library.partition("@")[2] not in {"", "py", "ivi"}:
        return ""  # neither a bus nor a network below
    if lacking := resources.obstacle(connection.resource):
        return lacking
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


def _asked(
    connection: Connection,
    settings: VisaSettings,
    question: Question | None,
    terminator: bytes,
    after_others: bool = False,
) -> bytes:
    """All that comes of one question, as it comes; without a question what is heard.

    `after_others`: a question with another terminator may still wait in the instrument for its end; on a serial line,
    which knows no fresh connection, it is ended first, and what comes of it is not counted.
    """
    import pyvisa
    from pyvisa.resources import MessageBasedResource, SerialInstrument

    resource = pyvisa.ResourceManager(connection.visa_library).open_resource(connection.resource)
    try:
        if not isinstance(resource, MessageBasedResource):
            return b""
        resource.timeout = round(1000 * min(connection.timeout_s, PATIENCE_S))
        if isinstance(resource, SerialInstrument):
            set_line(resource, settings.line or Line())
            if after_others:
                resource.write_raw(terminator)
                _all(resource)
        if question is None:
            return _some_lines(resource)
        if question.greets:
            _all(resource)
        resource.write_raw(question.ask.encode("latin-1") + terminator)
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


def _some_lines(resource: MessageBasedResource) -> bytes:
    """The rest of the line under way and what follows, until a third CR or LF: enough to tell CR LF from CR."""
    heard = b""
    with suppress(Exception):  # a time-out ends it
        while len(heard) < _LONGEST and heard.count(b"\r") + heard.count(b"\n") < 3:
            byte = resource.read_bytes(1)
            if not byte:
                break
            heard += byte
    return heard


def _of_heard(connection: Connection, written: str, heard: bytes) -> str:
    """What is told by lines that nobody asked for; "" where they are as they should be."""
    if not heard:
        return (
            "connected, and nothing is heard: see that the instrument is on and set to send by itself, and on a serial "
            "line that baud rate and wires agree"
        )
    if not all(" " <= letter <= "~" or letter in "\r\n" or letter >= "\xa1" for letter in heard.decode("latin-1")):
        return _garbage(connection, heard)
    ends = _end_of(heard)
    if ends == "nothing":
        return f"no end of a line among the {len(heard)} bytes that are heard: here a line ends with CR, LF or both"
    if ends != written:
        return f"wrong terminator: a line ends with {ends}, and with {written} here: {_write(ends)}"
    return ""


def _end_of(reply: bytes) -> str:
    """The terminator that stands in a reply, or `nothing`."""
    return next((name for name in ("CR LF", "LF", "CR") if TERMINATORS[name] in reply), "nothing")


def _write(terminator: str) -> str:
    return f"write `terminator: {terminator}` under `settings:`"


def _garbage(connection: Connection, reply: bytes) -> str:
    shown = repr(reply[:40])[1:]
    if resources.resource(connection.resource).interface == resources.SERIAL:
        return f"garbage ({shown}): wrong baud rate, parity or number of bits; write `line:` as the instrument's is"
    return f"garbage ({shown}): no text; another service or protocol answers at this address"


def _of_reply(connection: Connection, written: str, question: Question, asked_with: str, reply: bytes) -> str:
    """What a reply tells that the driver could not read."""
    text, fits = reply.rstrip(b"\r\n"), False
    with suppress(ValueError):
        question.parse(text)
        fits = True
    if not fits and not all(0x20 <= byte < 0x7F for byte in text):
        return _garbage(connection, reply)
    ends = _end_of(reply)
    said = f"{text.decode('latin-1')[:60]!r}"
    if (asked_with, ends) != (written, written):
        remedy = f"{_write(ends)}, or set" if asked_with == ends else "set"
        if ends == "nothing" and not resources.resource(connection.resource).is_stream:
            remedy = f"{_write('none')}, or set"  # the bus itself marks the end
        return (
            f"wrong terminator: {said} answers to {asked_with} and ends with {ends}; messages end with {written} "
            f"here: {remedy} the instrument to {written}"
        )
    if fits:
        return f"{said} answers now: it was slow or busy; give a longer `timeout:` in rig.yaml"
    return f"{said} answers to {question.ask}, {question.unlike}"
