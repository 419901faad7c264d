"""One conversation with one instrument: every doubt about a reply becomes an `InstrumentError`.

A failed exchange leaves a reply unread or a command half sent, so that the next reply may belong to the last
question. Such a session refuses everything until it is opened again: no number is ever taken from the wrong reply.
"""

from __future__ import annotations

import errno
import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, TypeVar

from rigproof.errors import InstrumentError, RigproofError, raised_in
from rigproof.instruments import Connection, FloatArray, Identity
from rigproof.serial_ports import Held

from . import replies, resources
from .settings import Line, VisaSettings

if TYPE_CHECKING:
    from pyvisa.resources import MessageBasedResource, SerialInstrument

T = TypeVar("T")

LONGEST_TEXT = 512  # bytes of a text reply, terminator included
NO_WAY = frozenset({errno.EHOSTUNREACH, errno.ENETUNREACH})  # said of a network, not of an instrument
_LONGEST_QUEUE = 64  # entries; a queue that holds more is refilled as fast as it is read
_SHOWN = 60  # characters of a bad reply that a message quotes
_DRAIN_S = 0.001  # how long a byte stream is read for what nobody has asked for
_MOST_WAITING = 1_048_576  # bytes that may wait there

ENDS = {"LF": b"\n", "CR": b"\r", "CR LF": b"\r\n", "none": b""}


class Session:
    """A message-based VISA session. It belongs to one thread; constructing it touches nothing.

    Only the resource is ever closed, never PyVISA's ResourceManager: the managers of one library are one object,
    and closing it would cut off every other session, ours or not. It goes when the last session lets go of it.
    """

    _mend_cr_lf = "write `terminator: CR LF`"  # for an instrument whose replies end so, and here do not
    _mend_greeting = "a driver that knows its greeting"  # for one that greets, and here does not
    _mend_unread = "read it"  # for one that answers what is no question

    def __init__(
        self,
        connection: Connection,
        settings: VisaSettings | None = None,
        letters: str = "ascii",  # the character set of messages and replies
        greetings: Sequence[Callable[[str], object]] = (),  # parse the lines that come unasked after each connection
    ) -> None:
        settings = settings or VisaSettings()
        self._connection = connection
        self._end = ENDS[settings.terminator]
        self._line = settings.line or Line()
        self._letters, self._greetings = letters, greetings
        self._resource: MessageBasedResource | None = None
        self._held: Held | None = None  # its serial port
        self._in_doubt = False
        self._unasked: str | None = None  # the last message that was no question; "" on a fresh connection
        self._identity: Identity | None = None  # who answered when it was opened

    def open(self) -> Identity:
        """Connect (again, if need be), clear, and ask who is there."""
        try:
            self.reconnect()
            self.command("*CLS")
            self._identity = self.ask("*IDN?", replies.identity)
            return self._identity
        except InstrumentError:
            self.close()
            raise

    def look(self) -> Identity:
        """Connect and ask who is there; clears nothing."""
        try:
            self.reconnect()
            self._identity = self.ask("*IDN?", replies.identity)
            return self._identity
        except InstrumentError:
            self.close()
            raise

    def reconnect(self) -> None:
        """A fresh connection, on which no old reply can be waiting; sends nothing.

        Where the instrument greets, its greeting is heard. Without it the session is in doubt: last words alone go out.
        """
        self._let_go()
        self._in_doubt = True
        try:
            self._connect()
        except RigproofError:
            raise  # a signal handler's word
        except Exception as error:  # pyvisa-py reports a failed connection as a plain Exception
            self._let_go()
            name, general = self._connection.resource, "check power, cable and `resource:` in rig.yaml"
            came, remedy = resources.refusal(name, error) or (_words(error), general)
            raise self._fault(f"open {name}", came, "the resource must be there and take messages", remedy) from error
        self._in_doubt = False
        self._unasked = ""
        for number, parse in enumerate(self._greetings, 1):
            self._hear(f"line {number} of its greeting" if self._greetings[1:] else "its greeting", parse)

    def _hear(self, what: str, parse: Callable[[str], object]) -> None:
        """One line of the greeting."""
        late = "leave the greeting out if it sends none to whoever connects, or give a longer `timeout:` in rig.yaml"
        self._exchange(what, lambda resource: self._parsed(resource, what, parse), 0.0, late)
        self._unasked = None

    @property
    def in_doubt(self) -> bool:
        """True after a failed exchange: the next reply may belong to the last question."""
        return self._in_doubt

    def recover(self) -> None:
        """Reconnect after a failed exchange. For what asks nothing of the instrument's settings."""
        if self._in_doubt:
            self.resume()

    def resume(self) -> Identity:
        """A fresh connection in the middle of a run, to the instrument that was opened: nothing is cleared or set."""
        if self._identity is None:
            raise self._fault("*IDN?", "nothing was sent", "the instrument must be open", "open it first")
        self.reconnect()
        self.expect_same()
        return self._identity

    def expect_same(self) -> None:
        """See that the instrument which was opened answers, and no other; a session that never was takes any."""
        if self._identity is None:
            return
        found = self.ask("*IDN?", replies.identity)
        if found != self._identity:
            self._in_doubt = True
            raise self._fault(
                "*IDN?",
                f"{found.maker} {found.model} {found.serial_number} answers",
                f"{self._identity.maker} {self._identity.model} {self._identity.serial_number} was opened",
                "another instrument stands at this address now: correct the cabling",
            )

    def close(self) -> None:
        """Let go of the instrument; never raises."""
        self._let_go()
        self._in_doubt = False

    def command(self, *messages: str) -> None:
        """Send messages in order, then see that the instrument found no fault with them."""
        asked = "; ".join(messages)

        def send(resource: MessageBasedResource) -> None:
            for message in messages:
                resource.write(message)

        self._exchange(asked, send)
        self.expect_no_errors(asked)

    def expect_no_errors(self, asked: str) -> None:
        """See that the instrument found no fault with what it was asked."""
        if entries := self.errors():
            raise self._fault(
                asked,
                f"its error queue then held {' and '.join(entries)}",
                "every message must be accepted",
                "look the code up in the instrument's manual",
            )

    def write(self, message: str) -> None:
        """Send one message, and look no further."""
        self._exchange(message, lambda resource: resource.write(message))
        self._unasked = message

    def ask(self, message: str, parse: Callable[[str], T], delay_s: float = 0.0, quiet: bool = False) -> T:
        """Send a query; its reply, parsed. `delay_s` is what the instrument needs before it is read.

        `quiet`: a reply that waits before the question is a fault, for it would be taken for the next one.
        """

        def talk(resource: MessageBasedResource) -> T:
            if quiet:
                self._expect_quiet(resource, message)
            resource.write(message)
            if delay_s:
                self._connection.clock.wait(delay_s)
            return self._parsed(resource, message, parse)

        reply = self._exchange(message, talk)
        self._unasked = None
        return reply

    def listen(self, parse: Callable[[str], T]) -> T:
        """The next whole line of an instrument that sends without being asked, parsed.

        What has come before is thrown away, and so is the line that is under way: its beginning may be missing.
        """

        def hear(resource: MessageBasedResource) -> T:
            self._discard(resource)
            resource.read_bytes(LONGEST_TEXT, break_on_termchar=True)
            return self._parsed(resource, "listening", parse)

        return self._exchange("listening", hear)

    def ask_block(self, message: str, value_count: int, duration_s: float) -> FloatArray:
        """Send a query that takes `duration_s` to answer; its block of 64-bit numbers, shape (value_count,)."""

        def talk(resource: MessageBasedResource) -> FloatArray:
            resource.write(message)
            data = self._read_block(resource, message, replies.block_bytes(value_count))
            try:
                return replies.block_values(data)
            except ValueError as error:
                raise self._unlike(message, data, error) from error

        return self._exchange(message, talk, duration_s)

    def errors(self) -> list[str]:
        """Drain the error queue, oldest entry first."""
        entries: list[str] = []
        while entry := self.ask("SYST:ERR?", replies.error_entry):
            entries.append(entry)
            if len(entries) > _LONGEST_QUEUE:
                raise self._fault(
                    "SYST:ERR?",
                    f"{len(entries)} entries and no end, the last {entry}",
                    'the queue must end with 0,"No error"',
                    "switch the instrument off and on",
                )
        return entries

    def last_word(self, message: str) -> None:
        """Send `message` even where replies are lost: it may still arrive. Never raises; confirms nothing."""
        if self._resource is not None:
            with suppress(Exception):
                self._resource.write(message)

    def check(self, holds: bool, message: str, came: str, rule: str, remedy: str) -> None:
        """Raise `InstrumentError` unless what was read back `holds`."""
        if not holds:
            raise self._fault(message, came, rule, remedy)

    def _parsed(self, resource: MessageBasedResource, message: str, parse: Callable[[str], T]) -> T:
        reply = resource.read_bytes(LONGEST_TEXT, break_on_termchar=True)
        try:
            return parse(self._content(reply))
        except ValueError as error:
            raise self._unlike(message, reply, error) from error
        except RigproofError:
            raise
        except Exception as error:
            at = raised_in(error, getattr(getattr(parse, "__code__", None), "co_filename", None))
            raise self._fault(
                message,
                f"{_shown(reply)}, and the driver failed on it: {type(error).__name__}: {error} (at {at})",
                "what a driver cannot take apart it refuses by ValueError",
                "mend the driver there: see that the reply has its form, or `raise ValueError` with the form",
            ) from error

    def _content(self, reply: bytes) -> str:
        """A text reply without its terminator; ValueError for what is none."""
        return _text(reply, self._end, self._letters)

    def _expect_quiet(self, resource: MessageBasedResource, message: str) -> None:
        """See that no reply is waiting that nobody asked for: it would be taken for the next one."""
        from pyvisa.constants import StatusCode
        from pyvisa.errors import VisaIOError

        if resource.read_termination is None:
            return  # a bus drops an unread reply when the next message comes
        patience, resource.timeout = resource.timeout, _milliseconds(_DRAIN_S)
        waiting = b""
        try:
            while len(waiting) < _SHOWN:
                waiting += resource.read_bytes(1)
        except VisaIOError as error:
            if error.error_code != StatusCode.error_timeout:
                raise
        finally:
            resource.timeout = patience
        if waiting:
            came, rule = f"{waiting!r} was waiting before the question", "a reply follows a question"
            raise self._fault(message, came, rule, self._mend_waiting(waiting))

    def _mend_waiting(self, waiting: bytes) -> str:
        """What to do about what nobody has asked for, by what was sent before."""
        second = "look for a second program on the line, or for a mode in which the instrument sends by itself"
        if waiting == b"\n":
            return f"{self._mend_cr_lf}, or {second}"
        if self._unasked:
            return f"if this is its reply to {self._unasked!r}, {self._mend_unread}; or {second}"
        if self._unasked == "":
            return f"if this is its greeting, {self._mend_greeting}; or {second}"
        return second

    def _discard(self, resource: MessageBasedResource) -> None:
        """Throw away what waits to be read on a stream."""
        from pyvisa.constants import BufferOperation, StatusCode
        from pyvisa.errors import VisaIOError
        from pyvisa.resources import SerialInstrument

        if isinstance(resource, SerialInstrument):
            resource.flush(BufferOperation.discard_read_buffer)
            return
        # pyvisa-py's flush of a socket never returns once the other side has hung up; a read for a moment does.
        with _without_end(resource):
            try:
                resource.read_bytes(_MOST_WAITING)
            except VisaIOError as error:
                if error.error_code != StatusCode.error_timeout:
                    raise

    def _let_go(self) -> None:
        resource, self._resource = self._resource, None
        if resource is not None:
            with suppress(Exception):
                resource.close()
        held, self._held = self._held, None
        if held is not None:
            held.close()

    def _connect(self) -> None:
        import pyvisa
        from pyvisa.resources import MessageBasedResource, SerialInstrument, TCPIPSocket

        where = self._connection
        self._held = resources.hold(where)
        manager = pyvisa.ResourceManager(where.visa_library)
        resource = manager.open_resource(where.resource, open_timeout=_milliseconds(where.timeout_s))
        if not isinstance(resource, MessageBasedResource):
            resource.close()
            raise ValueError(f"a {type(resource).__name__} takes no messages")
        self._resource = resource
        resource.timeout = _milliseconds(where.timeout_s)
        resource.encoding = self._letters
        if isinstance(resource, SerialInstrument | TCPIPSocket):
            self._end = self._end or b"\n"  # a byte stream has no other end of a message
            resource.read_termination = chr(self._end[-1])
        resource.write_termination = self._end.decode()
        if isinstance(resource, SerialInstrument):
            set_line(resource, self._line)
        if not isinstance(resource, TCPIPSocket) and not self._greetings:
            # It would throw a greeting away. A new socket is clean, and pyvisa-py's clear never returns once the other
            # side has hung up.
            with suppress(Exception):  # some backends cannot; *CLS and *IDN? will tell
                resource.clear()

    def _exchange(
        self,
        message: str,
        talk: Callable[[MessageBasedResource], T],
        duration_s: float = 0.0,
        remedy: str = "check power and cable, or give a longer `timeout:` in rig.yaml",
    ) -> T:
        """An exchange that may take `duration_s` beyond the timeout. If it ends badly, the session is in doubt."""
        resource, limit_s = self._resource, self._connection.timeout_s + duration_s
        if resource is None:
            raise self._fault(message, "nothing was sent", "the instrument must be open", "open it first")
        if self._in_doubt:
            raise self._fault(
                message,
                "nothing was sent",
                "after a failed exchange the next reply may belong to the last question",
                "close and open the instrument again",
            )
        self._in_doubt = True
        try:
            if duration_s:
                resource.timeout = _milliseconds(limit_s)
            result = talk(resource)
            if duration_s:
                resource.timeout = _milliseconds(self._connection.timeout_s)
        except RigproofError:
            raise  # our own word, or a model's
        except Exception as error:  # PyVISA's errors, and whatever a backend lets out of its own library
            if getattr(error, "errno", None) in NO_WAY:
                raise InstrumentError(self._connection.name, no_way(self._connection.resource)) from error
            raise self._fault(
                message,
                _words(error),
                f"an instrument must answer within {limit_s:g} s",
                remedy,
            ) from error
        self._in_doubt = False
        return result

    def _read_block(self, resource: MessageBasedResource, message: str, data_bytes: int) -> bytes:
        """The data of a block that announces `data_bytes`; never asks for a byte that need not come.

        A byte stream stops at every LF among the data, hence the loop.
        """
        shortest = 2 + len(str(data_bytes)) + data_bytes + len(self._end)
        block = bytearray(resource.read_bytes(shortest, break_on_termchar=True))
        try:
            header = replies.block_header(block, data_bytes)
        except ValueError as error:
            raise self._unlike(message, block, error) from error
        end = header + data_bytes
        whole = end + len(self._end)
        while len(block) < whole:
            more = resource.read_bytes(whole - len(block), break_on_termchar=True)
            if not more:
                raise OSError(f"the reply ended after {len(block)} of {whole} bytes")
            block += more
        if block[end:] != self._end:
            raise self._fault(
                message,
                f"byte {bytes(block[end:])!r} after {data_bytes} bytes of data",
                f"a block ends with {_word(self._end)}",
                "the reply is longer than it says: check the instrument's firmware",
            )
        return bytes(block[header:end])

    def _unlike(self, message: str, data: bytes | bytearray, error: ValueError) -> InstrumentError:
        """The fault of a reply that does not have its form."""
        return self._fault(message, _shown(data), str(error), "check that this is the instrument the driver is for")

    def _fault(self, asked: str, came: str, rule: str, remedy: str) -> InstrumentError:
        return InstrumentError(self._connection.name, f"{asked}: {came}; {rule}; {remedy}")


def _shown(data: bytes | bytearray) -> str:
    return f"the reply was {repr(bytes(data[:_SHOWN]))[1:]}{'…' if len(data) > _SHOWN else ''}"


def _text(data: bytes, end: bytes, letters: str) -> str:
    """A text reply without its terminator."""
    if not data.endswith(end) or (not end and len(data) == LONGEST_TEXT):
        raise ValueError(f"a reply ends with {_word(end)} within {LONGEST_TEXT} bytes")
    text = data[: len(data) - len(end)].decode(letters)  # UnicodeDecodeError is a ValueError
    if end == b"\n" and text.endswith("\r"):
        raise ValueError("a reply ends with LF, and this one with CR LF: write that as its `terminator:`")
    if not text.isprintable():
        raise ValueError(f"a reply is one line of printable {'ASCII' if letters == 'ascii' else 'text'}")
    return text


def _word(end: bytes) -> str:
    return next(word for word, known in ENDS.items() if known == end)


@contextmanager
def _without_end(resource: MessageBasedResource) -> Iterator[None]:
    """For a moment a read takes whatever comes, and takes no longer than that moment."""
    end, timeout = resource.read_termination, resource.timeout
    resource.read_termination, resource.timeout = None, _milliseconds(_DRAIN_S)
    try:
        yield
    finally:
        resource.read_termination, resource.timeout = end, timeout


def set_line(resource: SerialInstrument, line: Line) -> None:
    """How characters run on a serial line."""
    from pyvisa.constants import ControlFlow, Parity, StopBits

    resource.baud_rate, resource.data_bits = line.baud_rate, line.data_bits
    resource.parity = Parity[line.parity]
    resource.stop_bits = {"1": StopBits.one, "1.5": StopBits.one_and_a_half, "2": StopBits.two}[line.stop_bits]
    resource.flow_control = {
        "none": ControlFlow.none,
        "XON/XOFF": ControlFlow.xon_xoff,
        "RTS/CTS": ControlFlow.rts_cts,
        "DTR/DSR": ControlFlow.dtr_dsr,
    }[line.flow_control]


def no_way(to: str) -> str:
    """What `NO_WAY` means, and what to see to."""
    return f"no way to {to}: host or network unreachable; see cable, address and network settings"


def _words(error: Exception) -> str:
    """One line, with the notes by which a simulated library says why."""
    said = [str(error) or type(error).__name__, *getattr(error, "__notes__", ())]
    return ", ".join(" ".join(text.split()).rstrip(".") for text in said)


def _milliseconds(seconds: float) -> int:
    return math.ceil(seconds * 1000)
