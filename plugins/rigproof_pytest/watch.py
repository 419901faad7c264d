"""Seeing what a driver must not do: sleep, hang, leave threads behind; and what the machine does to it: stall."""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Self

import pytest

OURS = "rigproof_pytest"  # what the names of the kit's own threads begin with
_TICK_S = 0.01
_LONGEST_NAP_S = 0.05  # a driver that sleeps is let off with this, so that its author need not wait for the verdict


class Stalls:
    """How late this machine lets a thread run that has waited its time: hardly at all, unless it is busy."""

    def __init__(self) -> None:
        self._worst_s, self._began = 0.0, time.monotonic()
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True, name=f"{OURS} stalls")

    def __enter__(self) -> Self:
        self._began = time.monotonic()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    @property
    def worst_s(self) -> float:
        """So far; a stall counts before the watching thread, which it has stopped too, runs again."""
        return max(self._worst_s, time.monotonic() - self._began - _TICK_S)

    def _watch(self) -> None:
        while not self._over.wait(_TICK_S):
            self._worst_s, self._began = self.worst_s, time.monotonic()


class Hangs(BaseException):
    """Raised inside a driver that does not come back; no `except Exception` in it can stop this."""


@contextmanager
def limited(seconds: float) -> Iterator[None]:
    """Raise `Hangs` when what is inside takes longer, again and again until it gives in (main thread, POSIX)."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def ring(_number: int, _frame: FrameType | None) -> None:
        raise Hangs

    old_handler = signal.signal(signal.SIGALRM, ring)
    old_timer = signal.setitimer(signal.ITIMER_REAL, seconds, 0.5)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, *old_timer)
        signal.signal(signal.SIGALRM, old_handler)


def forbid_sleep(driver: type, patch: pytest.MonkeyPatch) -> list[str]:
    """Catch every sleep of the driver's own packages; gives the list that its places are written to.

    A sleep is `time.sleep`, or an `Event` that is waited for and never set.
    """
    packages = {base.__module__.split(".")[0] for base in driver.__mro__} - {"rigproof", "abc", "builtins"}
    places: list[str] = []
    sleep, wait = time.sleep, threading.Event.wait

    def theirs(caller: FrameType) -> bool:
        return str(caller.f_globals.get("__name__", "")).split(".")[0] in packages  # else somebody else's library

    def note(caller: FrameType, seconds: float) -> None:
        places.append(f"{caller.f_code.co_filename}:{caller.f_lineno} sleeps {seconds:g} s")

    def caught(seconds: float) -> None:
        mine = theirs(caller := sys._getframe(1))
        if mine:
            note(caller, seconds)
        sleep(min(seconds, _LONGEST_NAP_S) if mine else seconds)

    def waited(event: threading.Event, timeout: float | None = None) -> bool:
        came = wait(event, timeout)
        if not came and timeout and theirs(caller := sys._getframe(1)):
            note(caller, timeout)
        return came

    patch.setattr(time, "sleep", caught)
    patch.setattr(threading.Event, "wait", waited)
    for name, module in list(sys.modules.items()):
        if name.split(".")[0] in packages:  # from time import sleep
            for word, thing in list(vars(module).items()):
                if thing is sleep:
                    patch.setattr(module, word, caught)
    return places


def threads() -> set[threading.Thread]:
    """The threads that run now, without the kit's own."""
    return {thread for thread in threading.enumerate() if not thread.name.startswith(OURS)}
