"""For instruments with a text protocol of their own: a question, a line back."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from functools import partial
from typing import TypeVar

import numpy as np

from rigproof.errors import InstrumentError
from rigproof.instruments import Connection, FloatArray

from .diagnosis import Here, Question, diagnose_as
from .driver import scans
from .session import LONGEST_TEXT, Session
from .settings import Line, VisaSettings

T = TypeVar("T")

_MEND_LINE = "set the instrument as `settings:` or the driver's `TextLine` have it, or them as the instrument is"


class TextLine(Session):
    """A session whose messages and replies end as the instrument's manual says, by any VISA resource.

    Use `start`, `ask`, `write`, `check`, `last_word`, `reconnect`, `close`; the rest of `Session` speaks SCPI. After a
    failed exchange it refuses everything until it is started again: no number is ever taken from the wrong reply.
    """

    _mend_cr_lf = 'give the driver\'s `TextLine` reply_end="\\r\\n"'
    _mend_greeting = "give the driver's `TextLine` a `greeting` that takes it"
    _mend_unread = "send that with `ask`, and look at what comes, not with `write`"

    def __init__(
        self,
        connection: Connection,
        message_end: str,
        reply_end: str,
        line: Line | None = None,  # of a serial port; None is 9600 baud, 8 data bits, no parity, 1 stop bit
        greeting: Callable[[str], object] | None = None,  # parses the line that comes unasked after each connection
    ) -> None:
        super().__init__(connection, VisaSettings(line=line), greetings=(greeting,) if greeting else ())
        self._message_end, self._reply_end = message_end, reply_end

    def start(self, question: str, parse: Callable[[str], T]) -> T:
        """Connect anew and ask who is there, or whatever else shows that the instrument answers.

        A question that is harmless at any time: where it fails, `check --connect` asks it again with each terminator.
        """
        try:
            self.reconnect()
            return self.ask(question, parse)
        except InstrumentError as error:
            self.close()
            error.ask_why = partial(self._diagnose, question, parse)
            raise

    def ask(self, message: str, parse: Callable[[str], T], delay_s: float = 0.0, quiet: bool = True) -> T:
        """Send a question; its reply, parsed. `parse` raises ValueError with the rule that the reply breaks."""
        return super().ask(message, parse, delay_s, quiet)

    def _diagnose(self, question: str, parse: Callable[[str], object]) -> str:
        """Why `start` failed: name, address, port, terminator or baud rate."""
        asked = Question(question, lambda reply: parse(reply.decode("ascii")), "", self._greetings)
        ends = (self._message_end.encode("ascii"), self._reply_end.encode("ascii"))
        return diagnose_as(
            self._connection, Here(*ends, self._line, False, _mend_ends, _MEND_LINE, self._mend_greeting), asked
        )

    def _connect(self) -> None:
        super()._connect()
        if self._resource is not None:
            self._resource.write_termination = self._message_end
            if self._resource.read_termination is not None:  # a byte stream; a bus ends replies by itself
                self._resource.read_termination = self._reply_end

    def _content(self, reply: bytes) -> str:
        end = self._reply_end.encode("ascii")
        if not reply.endswith(end):
            raise ValueError(f"a reply ends with {self._reply_end!r} within {LONGEST_TEXT} bytes")
        text = reply[: len(reply) - len(end)].decode("ascii")  # UnicodeDecodeError is a ValueError
        if end == b"\n" and text.endswith("\r"):
            raise ValueError(f"a reply ends with LF, and this one with CR LF: {self._mend_cr_lf}")
        if not text.isprintable():
            raise ValueError("a reply is one line of printable ASCII")
        return text


def _mend_ends(message_end: bytes, reply_end: bytes) -> str:
    """What a driver must write for an instrument that takes and gives these."""
    ends = (json.dumps(end.decode("ascii")) for end in (message_end, reply_end))
    return "give the driver's `TextLine` message_end={}, reply_end={}".format(*ends)


def paced(
    connection: Connection,
    inputs: Sequence[int],
    has: Sequence[int],
    count: int,
    interval_s: float,
    reading: Callable[[int], float],
) -> FloatArray:
    """What `Reads.read` must give, from a function that takes one `reading` of one input; `has`: inputs that exist.

    Refuses a request that makes no sense; an instrument slower than `interval_s` stretches the interval.
    """
    scans(inputs, count, interval_s)
    if missing := sorted(set(inputs) - set(has)):
        raise InstrumentError(
            connection.name, f"inputs={list(inputs)}: there is no input {missing[0]}; use {list(has)}"
        )
    clock, rows = connection.clock, []
    due_s = clock.now()
    for _ in range(count):
        rows.append([reading(channel_input) for channel_input in inputs])
        due_s += interval_s
        if (left_s := due_s - clock.now()) > 0:
            clock.wait(left_s)
    return np.array(rows, dtype=np.float64)
