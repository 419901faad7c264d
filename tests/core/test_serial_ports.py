"""Why a serial port does not open, and holding one for oneself."""

from __future__ import annotations

import errno
import os
import termios
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial

from rigproof.serial_ports import Held, hold, refusal


@pytest.fixture
def port() -> Iterator[str]:
    here, there = os.openpty()
    yield os.ttyname(there)
    os.close(here)
    os.close(there)


@pytest.mark.parametrize(
    ("error", "came", "remedy"),
    [
        (PermissionError(errno.EACCES, "Permission denied"), "permission denied: this account", "log in again"),
        (serial.SerialException(errno.EPERM, "could not open"), "permission denied", "`ls -l /dev/p`"),
        (OSError(errno.EBUSY, "busy"), "another program, or another instrument of this rig, has /dev/p open", "end"),
        ("[Errno 11] Could not exclusively lock port /dev/p: [Errno 11] …", "another program", "`fuser -v /dev/p`"),
        (OSError(errno.ENOENT, "No such file"), "there is no port /dev/p", "plug it in, or correct `resource:`"),
        (termios.error(errno.EINVAL, "Invalid argument"), "/dev/p refuses the settings", "this port can do here"),
        ("(22, 'Invalid argument')", "/dev/p refuses the settings of the line", "write a baud rate, parity"),
        (serial.SerialException("Could not configure port: (25, 'Inappropriate')"), "is no serial port", "correct"),
    ],
)  # fmt: skip
def test_each_fault_has_its_own_remedy(error: Exception | str, came: str, remedy: str) -> None:
    told = refusal(error, "/dev/p", "here")
    assert told is not None
    assert came in told[0]
    assert remedy in told[1]


@pytest.mark.parametrize(
    "error", [OSError(errno.EIO, "Input/output error"), "VI_ERROR_TMO (-1073807339)", ValueError("x")]
)
def test_what_tells_nothing_is_left_to_others(error: Exception | str) -> None:
    assert refusal(error, "/dev/p", "here") is None


def test_windows_denies_what_another_program_has(monkeypatch: pytest.MonkeyPatch) -> None:
    said = "could not open port 'COM3': PermissionError(13, 'Access is denied.')"
    monkeypatch.setattr(os, "name", "nt")
    told = refusal(said, "COM3", "here")
    monkeypatch.undo()
    assert told is not None
    assert told[0] == "another program, or another instrument of this rig, has COM3 open"


def test_a_port_is_held_until_it_is_let_go(port: str) -> None:
    held = hold(port)
    assert held is not None
    neighbour = hold(port)  # an instrument of this process, on the same line
    assert neighbour is not None
    held.close()
    held.close()
    with pytest.raises(serial.SerialException, match="exclusively lock"):  # another library's lock is the same
        serial.Serial(port, exclusive=True)
    neighbour.close()
    with serial.Serial(port, exclusive=True), pytest.raises(BlockingIOError):
        Held(port)
    Held(port)  # nobody keeps it: it goes with what held it
    again = hold(port)
    assert again is not None
    again.close()


def test_a_number_or_nothing_is_not_held(tmp_path: Path) -> None:
    assert hold("") is None
    assert hold("3") is None
    with pytest.raises(FileNotFoundError):
        hold(str(tmp_path / "gone"))
