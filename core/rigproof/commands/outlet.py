"""A way out for text that never makes a run wait.

A screen that was halted, a pager or a stalled network line may stop reading at any time, and a rig under load must be
watched and made safe all the same.
"""

from __future__ import annotations

import os
import select
from contextlib import suppress
from typing import TextIO

AT_ONCE = 4096  # bytes that a pipe takes without waiting once it is ready (PIPE_BUF of Linux)


class Outlet:
    """Writes what the reader takes and keeps the rest. Raises `OSError` when the reader has gone."""

    def __init__(self, stream: TextIO) -> None:
        stream.flush()
        self._stream = stream
        self._kept = bytearray()
        self._encoding = stream.encoding or "utf-8"
        self._shared: int | None = None  # None: no file, as in a test; it is written to as it is
        self._own: int | None = None
        with suppress(OSError, ValueError, AttributeError):
            self._shared = stream.fileno()
            self._own = _of_its_own(self._shared)

    def write(self, text: str) -> None:
        """Write now what can be written now."""
        if self._shared is None:
            self._stream.write(text)
            self._stream.flush()
            return
        self._kept += text.encode(self._encoding, "replace")
        self._push(0)

    @property
    def clear(self) -> bool:
        """Whether everything was taken."""
        self._push(0)
        return not self._kept

    def finish(self, patience_s: float | None = None) -> None:
        """Wait until everything was taken, or until nothing was for `patience_s`."""
        self._push(None if patience_s is None else int(1000 * patience_s))

    def close(self) -> None:
        """Let go; what was not taken is lost."""
        if self._own is not None:
            os.close(self._own)
            self._own = None

    def _push(self, patience_ms: int | None) -> None:
        number = self._shared if self._own is None else self._own
        if number is None or not self._kept:
            return
        ready = select.poll()
        ready.register(number, select.POLLOUT)
        while self._kept and ready.poll(patience_ms):
            with suppress(BlockingIOError):
                del self._kept[: os.write(number, self._kept[:AT_ONCE])]


def _of_its_own(number: int) -> int | None:
    """A terminal opened once more, so that not waiting is ours alone: its other users share the first opening."""
    if not os.isatty(number):
        return None
    try:
        return os.open(os.ttyname(number), os.O_WRONLY | os.O_NOCTTY | os.O_NONBLOCK)
    except OSError:
        return None


def printable(text: str) -> str:
    """The text without control characters: an instrument's answer must not steer the terminal."""
    return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)
