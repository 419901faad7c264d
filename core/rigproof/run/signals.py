"""Ctrl-C, SIGTERM and a lost terminal during a run: noted at once, acted on between two commands to the rig.

A signal never breaks into the middle of a message or of a journal line, so the safe end begins when the reply or the
block of readings under way is there, and within a second while the run waits; an instrument that keeps it waiting is
broken off (`deadline`). SIGKILL and a power cut leave no time
for anything: only a source that falls back to its safe state by itself, and a relief device, help there. Ctrl-Z is
ignored meanwhile.
"""

from __future__ import annotations

import signal
import threading
from types import FrameType, TracebackType
from typing import Self

from rigproof.errors import Stopped

from . import deadline

NAMES = {
    signal.SIGINT: "the operator (Ctrl-C)",
    signal.SIGTERM: "the system (SIGTERM)",
    signal.SIGHUP: "the terminal, which went away (SIGHUP)",
    signal.SIGQUIT: "the operator (SIGQUIT)",
}


class StopSignals:
    """Context manager that turns stop signals into a question the run asks itself."""

    def __init__(self) -> None:
        self._by = ""
        self._safe_end = False
        self._old: dict[int, signal.Handlers | object] = {}
        self._outer: StopSignals | None = None  # that which stands around this one

    def __enter__(self) -> Self:
        deadline.take_time()
        if threading.current_thread() is threading.main_thread():
            for number in NAMES:
                self._old[number] = signal.signal(number, self._note)
            # Ctrl-Z would leave the load on and nobody watching
            self._old[signal.SIGTSTP] = signal.signal(signal.SIGTSTP, signal.SIG_IGN)
            outer = getattr(self._old[signal.SIGINT], "__self__", None)
            if isinstance(outer, StopSignals):  # what it has noted is not lost, nor what will be noted here
                self._outer, self._by = outer, self._by or outer.by
                if self._by:
                    deadline.hurry()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for number, handler in self._old.items():
            signal.signal(number, handler)  # type: ignore[arg-type]
        if self._outer is not None:
            self._outer.noted(self._by)

    @property
    def by(self) -> str:
        """Who asked for a stop; "" where nobody did."""
        return self._by

    def noted(self, by: str) -> None:
        """A stop that was asked for elsewhere; the first one counts."""
        self._by = self._by or by

    def _note(self, number: int, _frame: FrameType | None) -> None:
        self.noted(NAMES[signal.Signals(number)])
        deadline.hurry()

    def check(self) -> None:
        """Raise `Stopped` where a stop was asked for; not during the safe end, which nothing may cut short."""
        if self._by and not self._safe_end:
            raise Stopped(f"stopped by {self._by}")

    def begin_safe_end(self) -> None:
        """From here on a stop is only noted, and no instrument is waited for long."""
        self._safe_end = True
        deadline.hurry()

    @property
    def in_safe_end(self) -> bool:
        """True once the safe end has begun."""
        return self._safe_end
