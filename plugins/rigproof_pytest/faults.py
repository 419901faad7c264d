"""What can become of a reply on its way: faults made from the healthy instrument's own bytes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing that happens to one reply. `change` takes content and terminator and gives the bytes that are sent."""

    name: str  # as it ends the sentence "… when the reply to X …"
    change: Callable[[bytes, bytes], bytes]
    hangs_up: bool = False
    late_s: float = 0.0  # held back until the driver has given up; a driver that waits longer than this gets it


def _half(content: bytes, end: bytes) -> bytes:
    return (content + end)[: len(content + end) // 2]


def _nothing(_content: bytes, _end: bytes) -> bytes:
    return b""


SILENCE = Fault("never comes", _nothing)
HALF = Fault("stops half-way and nothing follows", _half)
HANG_UP = Fault("is a connection that closes", _nothing, hangs_up=True)
CUT = Fault("is cut half-way by a connection that closes", _half, hangs_up=True)
GARBAGE = (
    Fault("is words where a value should be", lambda _content, end: b"warming up" + end),
    Fault("is bytes outside ASCII", lambda _content, end: b"\xff\x80\x00\xfe" + end),
    Fault("is right and then goes on", lambda content, end: content + b"#7" + end),
)
EMPTY = Fault("is empty", lambda _content, end: end)  # where a terminator tells an empty reply from none


def late(longest_s: float) -> Fault:
    """A reply that comes after the driver has given up, or after `longest_s`."""
    return Fault("comes too late", bytes.__add__, late_s=longest_s)


def doubled(extra: bytes) -> Fault:
    """A reply with an unasked one (content `extra`) behind it."""
    return Fault("is followed by one that nobody asked for", lambda content, end: content + end + extra + end)
