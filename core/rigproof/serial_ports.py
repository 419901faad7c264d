"""Serial ports of this machine: what it means when one does not open, in plain words, and holding one for oneself."""

from __future__ import annotations

import errno
import os
import re
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

_NUMBER = re.compile(r"(?:\[Errno |\()(\d+)")  # as OSError and termios.error write themselves
_HELD = {errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK}
_GONE = {errno.ENOENT, errno.ENODEV, errno.ENXIO}


@dataclass(frozen=True)
class Port:
    """A serial port that a `resource:` names."""

    name: str
    speaks: str
    """What runs on its line, such as "Modbus RTU": instruments that speak the same may share it."""
    runs: str = ""
    """How the line runs, in words, where all that share it must say the same; "" where each sets it for itself."""


def absent(port: str, here: Sequence[str]) -> str:
    """That a port is none of those `here`, with the remedy; "" where it is: by name, device path or COM number."""
    if port in here or f"COM{port}" in here or (port.startswith("/") and Path(port).exists()):
        return ""
    listed = ", ".join(here) or "none"
    return f"no serial port {port!r} on this machine (here: {listed}): plug it in or correct the name"


def refusal(error: BaseException | str, port: str, settings: str) -> tuple[str, str] | None:
    """What came and what to do, where `port` did not open; None where the error does not tell.

    `error`: the exception, or its words where a library keeps no more. `settings`: where those of the line are written.
    """
    number = _number_of(error)
    denied = number in {errno.EACCES, errno.EPERM}
    if number in _HELD or (denied and os.name == "nt"):  # Windows denies what another program has open
        return (
            f"another program, or another instrument of this rig, has {port} open",
            f"end that program (`fuser -v {port}` shows it), or correct `resource:`",
        )
    if denied:
        return (
            f"permission denied: this account may not open {port}",
            f"see by `ls -l {port}` which group may, have the account added to it, and log in again",
        )
    if number in _GONE:
        return f"there is no port {port}", "plug it in, or correct `resource:`"
    if number == errno.EINVAL:
        return (
            f"{port} refuses the settings of the line (invalid argument)",
            f"write a baud rate, parity, data and stop bits that this port can do {settings}",
        )
    if number == errno.ENOTTY:
        return f"{port} is no serial port", "correct `resource:`"
    return None


def _number_of(error: BaseException | str) -> int | None:
    """The number of a fault of the system: of an exception, of what it came from, or out of the words."""
    if isinstance(error, BaseException):
        for number in (getattr(error, "errno", None), *error.args[:1]):
            if isinstance(number, int):
                return number
    found = _NUMBER.search(str(error))
    return int(found[1]) if found else None


class Held:
    """A serial port that this process alone has, until `close`.

    It is taken before anything sets the port: opening one that another program has would change its settings and
    throw its bytes away. The lock is flock's, advisory: programs that lock keep to it. Instruments of this process
    that share a line, each with an address of its own, share it.
    """

    _files: ClassVar[dict[str, tuple[int, int]]] = {}  # by port: its descriptor, and how many have it here
    _lock: ClassVar[threading.RLock] = threading.RLock()

    def __init__(self, port: str) -> None:
        """OSError where the port cannot be opened, or another has locked it."""
        self._port: str | None = None
        real = os.path.realpath(port)
        with self._lock:
            file, users = self._files.get(real) or (_locked(port), 0)
            self._files[real] = file, users + 1
        self._port = real

    def close(self) -> None:
        """Let go of it; may be called twice."""
        port, self._port = self._port, None
        if port is None:
            return
        with self._lock:
            file, users = self._files.pop(port)
            if users > 1:
                self._files[port] = file, users - 1
            else:
                os.close(file)

    def __del__(self) -> None:
        self.close()


def _locked(port: str) -> int:
    import fcntl  # not on Windows, where a port opens once anyway

    file = os.open(port, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in _HELD:
            os.close(file)
            raise  # else the system locks no ports, and it is as before
    return file


def hold(port: str) -> Held | None:
    """The port for oneself; None where it has no path, and where the system itself opens a port only once."""
    return Held(port) if os.name == "posix" and port.startswith("/") else None
