"""One conversation with one instrument: every doubt about a reply becomes an `InstrumentError`.

A failed exchange leaves a reply unread or a command half sent, so that the next reply may belong to the last
question. Such a session refuses everything until it is opened again: no number is ever taken from the wrong reply.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING, TypeVar

from rigproof.errors import InstrumentError, RigproofError
from rigproof.instruments import Connection, FloatArray, Identity

from . import replies

if TYPE_CHECKING:
    from pyvisa.resources import MessageBasedResource

T = TypeVar("T")

_LONGEST_TEXT = 512  # bytes of a text reply, terminator included
_LONGEST_QUEUE = 64  # entries; a queue that holds more is refilled as fast as it is read
_SHOWN = 60  # characters of a bad reply that a message quotes


class Session:
    """A message-based VISA session. It belongs to one thread; constructing it touches nothing.

    Only the resource is ever closed, never PyVISA's ResourceManager: the managers of one library are one object,
    and closing it would cut off every other session, ours or not. It goes when the last session lets go of it.
    """

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._resource: MessageBasedResource | None = None
        self._in_doubt = False
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
        """A fresh connection, on which no old reply can be waiting; sends nothing."""
        self._let_go()
        self._in_doubt = True
        try:
            self._connect()
        except RigproofError:
            raise  # a signal handler's word
        except Exception as error:  # pyvisa-py reports a failed connection as a plain Exception
            self._let_go()
            raise self._fault(
                f"open {self._connection.resource}",
                _words(error),
                "the resource must be there and take messages",
                "check power, cable and `resource:` in rig.yaml",
            ) from error
        self._in_doubt = False

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

    def ask(self, message: str, parse: Callable[[str], T]) -> T:
        """Send a query; its reply, parsed."""

        def talk(resource: MessageBasedResource) -> T:
            resource.write(message)
            reply = resource.read_bytes(_LONGEST_TEXT, break_on_termchar=True)
            try:
                return parse(_text(reply))
            except ValueError as error:
                raise self._unlike(message, reply, error) from error

        return self._exchange(message, talk)

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

    def _let_go(self) -> None:
        resource, self._resource = self._resource, None
        if resource is not None:
            with suppress(Exception):
                resource.close()

    def _connect(self) -> None:
        import pyvisa
        from pyvisa.resources import MessageBasedResource, SerialInstrument, TCPIPSocket

        where = self._connection
        manager = pyvisa.ResourceManager(where.visa_library)
        resource = manager.open_resource(where.resource, open_timeout=_milliseconds(where.timeout_s))
        if not isinstance(resource, MessageBasedResource):
            resource.close()
            raise ValueError(f"a {type(resource).__name__} takes no messages")
        self._resource = resource
        resource.timeout = _milliseconds(where.timeout_s)
        resource.write_termination = "\n"
        if isinstance(resource, SerialInstrument | TCPIPSocket):
            resource.read_termination = "\n"  # a byte stream has no other end of a message
        if not isinstance(resource, TCPIPSocket):
            # A new socket is clean, and pyvisa-py's clear never returns once the other side has hung up.
            with suppress(Exception):  # some backends cannot; *CLS and *IDN? will tell
                resource.clear()

    def _exchange(self, message: str, talk: Callable[[MessageBasedResource], T], duration_s: float = 0.0) -> T:
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
            raise self._fault(
                message,
                _words(error),
                f"an instrument must answer within {limit_s:g} s",
                "check power and cable, or give a longer `timeout:` in rig.yaml",
            ) from error
        self._in_doubt = False
        return result

    def _read_block(self, resource: MessageBasedResource, message: str, data_bytes: int) -> bytes:
        """The data of a block that announces `data_bytes`; never asks for a byte that need not come.

        A byte stream stops at every LF among the data, hence the loop.
        """
        shortest = 2 + len(str(data_bytes)) + data_bytes + 1
        block = bytearray(resource.read_bytes(shortest, break_on_termchar=True))
        try:
            header = replies.block_header(block, data_bytes)
        except ValueError as error:
            raise self._unlike(message, block, error) from error
        end = header + data_bytes
        while len(block) <= end:
            more = resource.read_bytes(end + 1 - len(block), break_on_termchar=True)
            if not more:
                raise OSError(f"the reply ended after {len(block)} of {end + 1} bytes")
            block += more
        if block[end:] != b"\n":
            raise self._fault(
                message,
                f"byte {bytes(block[end:])!r} after {data_bytes} bytes of data",
                "a block ends with LF",
                "the reply is longer than it says: check the instrument's firmware",
            )
        return bytes(block[header:end])

    def _unlike(self, message: str, data: bytes | bytearray, error: ValueError) -> InstrumentError:
        """The fault of a reply that does not have its form."""
        shown = repr(bytes(data[:_SHOWN]))[1:] + ("…" if len(data) > _SHOWN else "")
        return self._fault(
            message, f"the reply was {shown}", str(error), "check that this is the instrument the driver is for"
        )

    def _fault(self, asked: str, came: str, rule: str, remedy: str) -> InstrumentError:
        return InstrumentError(self._connection.name, f"{asked}: {came}; {rule}; {remedy}")


def _text(data: bytes) -> str:
    """A text reply without its terminator."""
    if not data.endswith(b"\n"):
        raise ValueError(f"a reply ends with LF within {_LONGEST_TEXT} bytes")
    text = data[:-1].decode("ascii")  # UnicodeDecodeError is a ValueError
    if not text.isprintable():
        raise ValueError("a reply is one line of printable ASCII")
    return text


def _words(error: Exception) -> str:
    """One line, with the notes by which a simulated library says why."""
    said = [str(error) or type(error).__name__, *getattr(error, "__notes__", ())]
    return ", ".join(" ".join(text.split()).rstrip(".") for text in said)


def _milliseconds(seconds: float) -> int:
    return math.ceil(seconds * 1000)
