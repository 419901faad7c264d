"""Why an instrument does not answer: name, address, port, terminator or baud rate, told by an identity query alone.

An instrument that only talks is asked nothing: what is heard of it tells.
"""

from __future__ import annotations

import socket
from collections.abc import Callable, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigproof.instruments import Connection

from . import replies, resources
from .session import ENDS, NO_WAY, no_way, set_line
from .settings import Line, VisaSettings

if TYPE_CHECKING:
    from pyvisa.resources import MessageBasedResource

TERMINATORS = {"LF": b"\n", "CR": b"\r", "CR LF": b"\r\n"}
PATIENCE_S = 1.0  # for each query; an instrument says who it is at once
_LONGEST = 512
_WRITE_LINE = "write `line:` as the instrument's is"
MEND_GREETING = "write the form of each of its lines as `greeting:` under `settings:`"
_NO_GREETING = "a driver that knows its greeting, such as a command map, is needed"
_ONE_LINE = "set the instrument to greet with one line or with none"
_NAME_WRONG = "correct `resource:` in rig.yaml, or the network's names"


@dataclass(frozen=True)
class Question:
    """How an instrument is asked who it is; harmless at any time."""

    ask: str
    parse: Callable[[bytes], object]  # ValueError for what is no reply to it
    unlike: str  # what to say of such a reply; "" where the driver has said it
    greetings: Sequence[Callable[[str], object]] = ()  # parse the lines that come unasked after connecting


IDN = Question(
    "*IDN?",
    lambda reply: replies.identity(reply.decode("ascii")),
    "which is no identity (maker, model, serial number, firmware): another device",
)


@dataclass(frozen=True)
class Here:
    """How messages and replies end by rig.yaml or the driver, how a serial line runs, and how to mend either."""

    message_end: bytes
    reply_end: bytes
    line: Line
    one_end: bool  # messages and replies can only end alike
    mend_ends: Callable[[bytes, bytes], str]  # for an instrument that takes and gives these; "" where nothing helps
    mend_line: str
    mend_greeting: str = _NO_GREETING  # for an instrument that greets whoever connects, and here does not
    mend_lines: str = _ONE_LINE  # for one that greets with more lines than one; "": as for one that greets


def diagnose(connection: Connection, settings: VisaSettings, question: Question = IDN) -> str:
    """What stands in the way, with its remedy, for an instrument whose terminator stands in rig.yaml."""
    is_stream = resources.resource(connection.resource).is_stream

    def mend_ends(message_end: bytes, reply_end: bytes) -> str:
        if not reply_end and not is_stream:
            return _write("none")  # the bus itself marks the end
        return _write(_name(reply_end)) if message_end == reply_end else ""

    end = ENDS[settings.terminator]
    mends = (MEND_GREETING, "") if hasattr(settings, "greeting") else ()
    here = Here(end, end, settings.line or Line(), True, mend_ends, _WRITE_LINE, *mends)
    return diagnose_as(connection, here, question)


def diagnose_as(connection: Connection, here: Here, question: Question) -> str:
    """What stands in the way, with its remedy. Asks who is there with each terminator, on a connection of its own."""
    if told := before_it(connection):
        return told
    terminators = dict.fromkeys((here.message_end, *TERMINATORS.values()))
    try:
        if told := _of_greeting(connection, here, question):
            return told
        for end in terminators:
            if reply := _asked(connection, here.line, question, end, after_others=end != here.message_end):
                return _of_reply(connection, here, question, _better(connection, here, question, end, reply), reply)
    except Exception:  # whatever a backend lets out: the open itself has told it
        return ""
    *others, last = [name for name in ("nothing", *TERMINATORS) if name in map(_name, terminators)]
    return (
        f"connected, and silent to {question.ask} with {', '.join(others)} or {last} at its end: see that the "
        "instrument is on and in remote operation, that this is its port, and on a serial line that baud rate and "
        f"wires agree; one that answers later than after {connection.timeout_s:g} s needs a longer `timeout:`"
    )


def _of_greeting(connection: Connection, here: Here, question: Question) -> str:
    """What is told by what comes unasked on a fresh connection; "" where that is as it should be, and on a bus."""
    if not resources.resource(connection.resource).is_stream:
        return ""
    heard = _asked(connection, here.line, None, b"", lines=1 + len(question.greetings))
    first, *more = heard.decode("latin-1").strip("\r\n").splitlines() or [""]
    if not first.isprintable():
        return ""  # a wrong baud rate; the question tells it
    if first and not question.greetings:
        mend = (more and here.mend_lines) or f"if the instrument greets so, {here.mend_greeting}"
        others = " and more lines come" if more else " comes"
        return f"{first[:60]!r}{others} unasked after connecting: {mend}; or end the mode in which it sends by itself"
    if first and question.greetings:
        return _of_greeted(here, question.greetings, [first, *more])
    if question.greetings and _asked(connection, here.line, question, here.message_end):
        return (
            f"no greeting comes after connecting, and {question.ask} is answered: leave the greeting out, if the "
            "instrument greets nobody or only when it is switched on"
        )
    return ""


def _of_greeted(here: Here, parsers: Sequence[Callable[[str], object]], lines: Sequence[str]) -> str:
    """What is told by the lines of a greeting; "" where they are as they should be."""
    for parse, line in zip(parsers, lines, strict=False):
        try:
            parse(line)
        except ValueError as error:
            mend = f"if the instrument greets so, {here.mend_greeting}"
            return f"{line[:60]!r} comes after connecting, and {error}: {mend}"
    if len(lines) < len(parsers):
        return f"no more comes after {lines[-1][:60]!r}, and its greeting has {len(parsers)} lines: correct the list"
    if len(lines) == len(parsers):
        return ""
    mend = here.mend_lines or here.mend_greeting
    return f"more lines come after {lines[len(parsers) - 1][:60]!r}, its greeting: {mend}"


def _better(connection: Connection, here: Here, question: Question, end: bytes, reply: bytes) -> bytes:
    """The end with which a question is best asked that was answered with `end`: where one must do for both, its own."""
    own = _end_of(reply, here.reply_end)
    if here.one_end and own not in (end, b"") and _asked(connection, here.line, question, own):
        return own
    return end


def diagnose_talker(connection: Connection, settings: VisaSettings) -> str:
    """What stands in the way of an instrument that sends lines without being asked."""
    if told := before_it(connection):
        return told
    try:
        heard = _asked(connection, settings.line or Line(), None, b"")
    except Exception:  # as above
        return ""
    return _of_heard(connection, settings.terminator, heard)


def before_it(connection: Connection) -> str:
    """What stands in the way before the instrument: a library, a serial port, a name, an address; "" for nothing."""
    from pyvisa import rname

    if not resources.is_real(connection.visa_library):
        return ""
    if lacking := resources.obstacle(connection.resource):
        return lacking
    with suppress(rname.InvalidResourceName):
        where = rname.ResourceName.from_string(connection.resource)
        if isinstance(where, rname.TCPIPSocket):
            return _reach(where.host_address, int(where.port), min(connection.timeout_s, 5.0))
        if isinstance(where, rname.TCPIPInstr) and where.lan_device_name.isdigit():
            host, number = where.host_address, where.lan_device_name
            return (
                f"{connection.resource} asks for a LAN device called {number!r}, and not for a port: write "
                f"`resource: TCPIP::{host}::{number}::SOCKET`"
            )
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
        if error.errno in NO_WAY:
            return no_way(host)
        return f"{host}: {error.strerror or error}"
    return ""


def _asked(
    connection: Connection,
    line: Line,
    question: Question | None,
    terminator: bytes,
    after_others: bool = False,
    lines: int = 1,
) -> bytes:
    """All that comes of one question, as it comes; without a question what is heard: so many `lines`, and a bit more.

    `after_others`: a question with another terminator may still wait in the instrument for its end; on a serial line,
    which knows no fresh connection, it is ended first, and what comes of it is not counted.
    """
    import pyvisa
    from pyvisa.resources import MessageBasedResource, SerialInstrument

    with ExitStack() as opened:
        if (held := resources.hold(connection)) is not None:
            opened.callback(held.close)
        resource = pyvisa.ResourceManager(connection.visa_library).open_resource(connection.resource)
        opened.callback(resource.close)
        if not isinstance(resource, MessageBasedResource):
            return b""
        resource.timeout = round(1000 * min(connection.timeout_s, PATIENCE_S))
        if isinstance(resource, SerialInstrument):
            set_line(resource, line)
            if after_others:
                resource.write_raw(terminator)
                _all(resource)
        if question is None:
            return _some_lines(resource, 2 * lines + 1)
        for _ in question.greetings:
            _all(resource)
        resource.write_raw(question.ask.encode("latin-1") + terminator)
        return _all(resource)


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


def _some_lines(resource: MessageBasedResource, ends: int) -> bytes:
    """The rest of the line under way and what follows, until `ends` CR or LF: three tell CR LF from CR."""
    heard = b""
    with suppress(Exception):  # a time-out ends it
        while len(heard) < _LONGEST and heard.count(b"\r") + heard.count(b"\n") < ends:
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
            "line that baud rate and wires agree and that no other program has the port open"
        )
    if not all(" " <= letter <= "~" or letter in "\r\n" or letter >= "\xa1" for letter in heard.decode("latin-1")):
        return _garbage(connection, heard, _WRITE_LINE)
    ends = _name(_end_of(heard))
    if ends == "nothing":
        return f"no end of a line among the {len(heard)} bytes that are heard: here a line ends with CR, LF or both"
    if ends != written:
        return f"wrong terminator: a line ends with {ends}, and with {written} here: {_write(ends)}"
    return ""


def _end_of(reply: bytes, written: bytes = b"") -> bytes:
    """The terminator that stands in a reply: the one that is written, or else CR LF, LF, CR or nothing."""
    if written and reply.endswith(written) and not (written == b"\n" and reply.endswith(b"\r\n")):
        return written
    return next((end for end in (b"\r\n", b"\n", b"\r") if end in reply), b"")


def _name(end: bytes) -> str:
    """A terminator in words."""
    known = {terminator: name for name, terminator in TERMINATORS.items()}
    return known.get(end, repr(end)[1:] if end else "nothing")


def _write(terminator: str) -> str:
    return f"write `terminator: {terminator}` under `settings:`"


def _garbage(connection: Connection, reply: bytes, mend_line: str) -> str:
    shown = repr(reply[:40])[1:]
    if resources.resource(connection.resource).interface == resources.SERIAL:
        return f"garbage ({shown}): wrong baud rate, parity or number of bits; {mend_line}"
    return f"garbage ({shown}): no text; another service or protocol answers at this address"


def _of_reply(connection: Connection, here: Here, question: Question, asked_with: bytes, reply: bytes) -> str:
    """What a reply tells that the driver could not read; "" where the driver's own words tell more."""
    ends, fits = _end_of(reply, here.reply_end), False
    text = reply.removesuffix(ends).rstrip(b"\r\n")
    with suppress(ValueError):
        question.parse(text)
        fits = True
    if not fits and not all(0x20 <= byte < 0x7F for byte in text):
        return _garbage(connection, reply, here.mend_line)
    said = f"{text.decode('latin-1')[:60]!r}"
    if (asked_with, ends) != (here.message_end, here.reply_end):
        alike = here.message_end == here.reply_end
        replies = "" if alike else f" and replies with {_name(here.reply_end)}"
        mend = here.mend_ends(asked_with, ends)
        return (
            f"wrong terminator: {said} answers to {_name(asked_with)} and ends with {_name(ends)}; messages end with "
            f"{_name(here.message_end)}{replies} here: {mend}{', or set' if mend else 'set'} the instrument to "
            f"{_name(here.message_end) if alike else 'these'}"
        )
    if fits:
        return f"{said} answers now: it was slow or busy; give a longer `timeout:` in rig.yaml"
    return f"{said} answers to {question.ask}, {question.unlike}" if question.unlike else ""
