"""A driver that does not come back is broken off: nothing may keep a rig under load from its safe end.

Every call of a driver has a time by the wall clock, generous for a measurement and short once the run is to stop.
Python runs the handler of an alarm between two steps of its own code, and a system call that waits is cut short for it:
an endless loop in a driver ends too. What raises there is no `Exception`, so that a driver that catches all of those,
to try again, is broken off as well; one that swallows even that once is broken off a second later.

Only where the system has such an alarm (not Windows), in the main thread, and not for drivers that ask a person.
"""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from types import FrameType
from typing import Any

from rigproof.errors import InstrumentError
from rigproof.instruments import Driver

CALLS = (
    *("open", "look", "resume", "close", "errors", "read", "excitation_v", "shunt", "insulation_ohm"),
    *("rise_to", "settled", "isolate", "go_safe", "is_safe", "rotate_to"),
)
AGAIN_S = 1.0
MOST_A_READING_S = 2.0  # a slower instrument is allowed for by its timeout
_state: dict[str, Any] = {  # of the main thread
    "hurry": False,
    "running": None,  # timeout of the call (s)
    "handled": False,  # an alarm finds its handler already
}


class Overdue(BaseException):
    """Raised into a call whose time is over."""


def under_a_deadline(driver: Driver) -> Driver:
    """The same driver, each of whose calls is broken off where it does not come back."""
    if not driver.asks_a_person and hasattr(signal, "setitimer"):
        for name in CALLS:
            if hasattr(driver, name):
                setattr(driver, name, partial(_call, driver, name))
    return driver


def hurry() -> None:
    """From here on, and for a call that is under way, there is no time but for a message or two."""
    _state["hurry"] = True
    if _state["running"] is not None:
        signal.setitimer(signal.ITIMER_REAL, _hurried_s(_state["running"]), AGAIN_S)


def take_time() -> None:
    """A new run: its calls have their whole time."""
    _state["hurry"] = False


@contextmanager
def handled() -> Iterator[None]:
    """For a run: alarms have their handler all the time. To set it with every call costs more than a message."""
    if threading.current_thread() is not threading.main_thread() or not hasattr(signal, "setitimer"):
        yield
        return
    outer, handler = _state["handled"], signal.signal(signal.SIGALRM, _raise)
    _state["handled"] = True
    try:
        yield
    finally:
        _state["handled"] = outer
        signal.signal(signal.SIGALRM, handler)


def _call(driver: Driver, name: str, *arguments: Any) -> Any:
    """One call. Raises `InstrumentError` where it is broken off."""
    if _state["running"] is not None or threading.current_thread() is not threading.main_thread():
        return getattr(type(driver), name)(driver, *arguments)
    if _state["handled"]:
        return _limited(driver, name, arguments)
    with handled():
        return _limited(driver, name, arguments)


def _limited(driver: Driver, name: str, arguments: tuple[Any, ...]) -> Any:
    timeout_s = driver.connection.timeout_s
    seconds = _hurried_s(timeout_s) if _state["hurry"] else _allowed_s(name, timeout_s, arguments)
    _state["running"] = timeout_s
    began, earlier = time.monotonic(), signal.setitimer(signal.ITIMER_REAL, seconds, AGAIN_S)
    try:
        return getattr(type(driver), name)(driver, *arguments)
    except Overdue:
        passed_s = time.monotonic() - began  # less than was allowed where a stop has shortened it
        text = f"did not come back from `{name}` in {passed_s:.0f} s and was broken off: its driver waits for ever"
        raise InstrumentError(driver.connection.name, text) from None
    finally:
        _state["running"] = None
        signal.setitimer(signal.ITIMER_REAL, *earlier)


def _raise(_number: int, _frame: FrameType | None) -> None:
    if _state["running"] is not None:
        raise Overdue


def _hurried_s(timeout_s: float) -> float:
    return 2 * timeout_s + 5.0


def _allowed_s(name: str, timeout_s: float, arguments: tuple[Any, ...]) -> float:
    """No measurement takes so long, nor do ten messages that are answered at the last moment."""
    patience = 10 * timeout_s + 10.0
    if name == "read":
        inputs, count, interval_s = arguments
        return float(patience + 2 * count * interval_s + count * len(inputs) * min(timeout_s, MOST_A_READING_S))
    return float(patience + 2 * arguments[2]) if name == "insulation_ohm" else patience
