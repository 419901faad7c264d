"""For instruments with a text protocol of their own: a question, a line back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np

from rigproof.errors import InstrumentError
from rigproof.instruments import Connection, FloatArray

from .driver import scans
from .session import LONGEST_TEXT, Session
from .settings import Line, VisaSettings

T = TypeVar("T")


class TextLine(Session):
    """A session whose messages and replies end as the instrument's manual says, by any VISA resource.

    Use `start`, `ask`, `write`, `check`, `last_word`, `reconnect`, `close`; the rest of `Session` speaks SCPI. After a
    failed exchange it refuses everything until it is started again: no number is ever taken from the wrong reply.
    """

    def __init__(
        self,
        connection: Connection,
        message_end: str,
        reply_end: str,
        line: Line | None = None,  # of a serial port; None is 9600 baud, 8 data bits, no parity, 1 stop bit
        greeting: Callable[[str], object] | None = None,  # parses the line that comes unasked after each connection
    ) -> None:
        super().__init__(connection, VisaSettings(line=line), greeting=greeting)
        self._message_end, self._reply_end = message_end, reply_end

    def start(self, question: str, parse: Callable[[str], T]) -> T:
        """Connect anew and ask who is there, or whatever else shows that the instrument answers."""
        try:
            self.reconnect()
            return self.ask(question, parse)
        except InstrumentError:
            self.close()
            raise

    def ask(self, message: str, parse: Callable[[str], T], delay_s: float = 0.0, quiet: bool = True) -> T:
        """Send a question; its reply, parsed. `parse` raises ValueError with the rule that the reply breaks."""
        return super().ask(message, parse, delay_s, quiet)

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
        if not text.isprintable():
            raise ValueError("a reply is one line of printable ASCII")
        return text


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
