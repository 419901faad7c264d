"""What stands in the way of a stranger's driver on `TextLine`: told by `check --connect`, with no code in the driver.

The drivers: one of a few lines that knows nothing of diagnosis, and the one that `rigproof new driver` makes.
"""

from __future__ import annotations

import contextlib
import importlib.util
import json
import re
import shutil
import socket
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import rigproof.commands.check
from rigproof.__main__ import cli, run
from rigproof.clock import WallClock
from rigproof.errors import InstrumentError
from rigproof.instruments import Connection, Settings
from rigproof.plugins import load_registry

from .conftest import loopback
from .test_serial import Wire
from .test_text_line import Dial, Greeter

SPOOL = Path(__file__).parents[3] / "rigs" / "spool"
CELL = "  cell: {{driver: load indicator, resource: 'TCPIP::127.0.0.1::{port}::SOCKET', timeout: 0.3 s}}\n"
CHANNEL = "  load: {measures: force, instrument: cell, input: 1, accuracy: {fixed: 5 N}}\n"


@contextlib.contextmanager
def peer(takes: bytes, answers: dict[bytes, bytes], heard: list[bytes], greeting: bytes = b"") -> Iterator[int]:
    """An instrument whose messages end with `takes` and with nothing else; yields its port."""

    def talk(line: socket.socket) -> None:
        with line, contextlib.suppress(OSError):
            line.sendall(greeting)
            waiting = b""
            while data := line.recv(1000):
                heard.append(data)
                *messages, waiting = (waiting + data).split(takes)
                line.sendall(b"".join(answers.get(message, b"") for message in messages))

    with loopback(talk) as port:
        yield port


def told(driver: type[Dial], where: Connection) -> str:
    """What a look at this driver's instrument is told with."""
    made = driver(where, Settings())
    with pytest.raises(InstrumentError) as caught:
        made.look()
    return made.diagnose() or caught.value.ask_why()


def at(port: int) -> Connection:
    return Connection("dial", f"TCPIP::127.0.0.1::{port}::SOCKET", "@py", 0.2, WallClock())


@pytest.mark.network
@pytest.mark.parametrize(
    ("takes", "reply", "said"),
    [
        (
            b"\r",
            b"dial\r",
            "wrong terminator: 'dial' answers to CR and ends with CR; messages end with CR and replies ",
        ),
        (
            b"\r",
            b"dial\n",
            r"replies with CR LF here: give the driver's `TextLine` message_end=\"\\r\", reply_end=\"\\n\"",
        ),
        (
            b"\n",
            b"dial\n",
            r"answers to LF and ends with LF; .* message_end=\"\\n\", reply_end=\"\\n\", or set the instr",
        ),
        (b"\r\n", b"dial\r\n", "answers to CR LF and ends with CR LF; .* or set the instrument to these$"),
        (b"\r", b"dial", r"answers to CR and ends with nothing; .*reply_end=\"\""),
        (b"\n", b"", "connected, and silent to WHO with LF, CR or CR LF"),
        (b"\n", b"", r"one that answers later than after \S+ s needs a longer `timeout:`"),
        (b"\n", b"\x00\xff\x83\x10\n", "garbage .*another service or protocol"),
    ],
)
def test_what_a_peer_tells_of_a_text_line(takes: bytes, reply: bytes, said: str) -> None:
    heard: list[bytes] = []
    with peer(takes, {b"WHO": reply}, heard) as port:
        assert re.search(said, told(Dial, at(port)))
    assert {message.rstrip(b"\r\n") for message in heard} == {b"WHO"}  # nothing is asked but who it is


@pytest.mark.network
def test_a_greeting_with_another_end_is_told_by_the_question_behind_it() -> None:
    with peer(b"\n", {b"WHO": b"dial\n"}, [], b"bay dial ready\n") as port:
        assert told(Greeter, at(port)).startswith("wrong terminator: 'dial' answers to LF and ends with LF")


@pytest.mark.network
def test_terminators_of_a_driver_that_nobody_else_has() -> None:
    """Written as they are, they are no fault; the instrument that wants them is not asked for others first."""

    class Odd(Dial):
        def __init__(self, connection: Connection, settings: Settings) -> None:
            super().__init__(connection, settings)
            self._line = type(self._line)(connection, message_end=";", reply_end="\x03")

    with peer(b";", {b"WHO": b"dial\r"}, []) as port:
        assert "answers to ';' and ends with CR; messages end with ';' and replies with '\\x03' here" in told(
            Odd, at(port)
        )
    heard: list[bytes] = []
    with peer(b";", {b"WHO": b"bay\xff\x03"}, heard) as port:
        assert "garbage" in told(Odd, at(port))
    assert set(heard) == {b"WHO;"}


@pytest.mark.network
def test_the_words_of_the_driver_stand_where_the_line_is_right() -> None:
    class Strict(Dial):
        def open(self) -> Any:
            return self._line.start("WHO", float)

    with peer(b"\r", {b"WHO": b"dial\r\n"}, []) as port:
        assert told(Strict, at(port)) == ""


@pytest.mark.parametrize(
    ("takes", "reply", "said"),
    [
        (b"\r", b"dial\r", "wrong terminator: 'dial' answers to CR and ends with CR"),
        (b"\n", b"dial\n", "wrong terminator: 'dial' answers to LF and ends with LF"),
        (b"\r", b"\xf8\x80\xfe\r\n", "garbage .*wrong baud rate, parity or number of bits; set the instrument as"),
        (b"\r", b"", "silent to WHO .*on a serial line that baud rate and wires agree"),
    ],
)
def test_what_a_serial_line_tells_of_a_text_line(takes: bytes, reply: bytes, said: str) -> None:
    with contextlib.closing(Wire()) as wire:
        wire.answers(takes, lambda message: reply if message == b"WHO" else b"")
        found = told(Dial, wire.connection(0.2))
    assert re.search(said, found)


@pytest.fixture
def check(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[[int], Any]:
    """`rigproof check RIG --connect --only cell`, with the driver just made by `rigproof new driver`; the row of it."""
    made = CliRunner().invoke(cli, ["new", "driver", "load indicator", "--in", str(tmp_path)])
    assert made.exit_code == 0, made.output
    spec = importlib.util.spec_from_file_location(
        "made", tmp_path / "rigproof-load-indicator/rigproof_load_indicator.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    known = load_registry()
    drivers = known.drivers | {"load indicator": module.LoadIndicatorDriver}
    monkeypatch.setattr(rigproof.commands.check, "load_registry", lambda: replace(known, drivers=drivers))
    folder = shutil.copytree(SPOOL, tmp_path / "rig")

    def checked(port: int) -> Any:
        text = (SPOOL / "rig.yaml").read_text("utf-8")
        text = text.replace("\ninstruments:\n", f"\ninstruments:\n{CELL.format(port=port)}")
        (folder / "rig.yaml").write_text(text.replace("\nchannels:\n", f"\nchannels:\n{CHANNEL}"), "utf-8")
        run(["check", str(folder), "--connect", "--only", "cell", "--json"])
        (row,) = json.loads(capsys.readouterr().out)["instruments"]
        return row

    return checked


def indicator(end: bytes) -> dict[bytes, bytes]:
    return {b"ID?": b"own make,load indicator,0001,1.0" + end, b"F1?": b"+0012.34 kN" + end}


@pytest.mark.network
@pytest.mark.parametrize(
    ("end", "said"),
    [
        (b"\n", 'wrong terminator: .*answers to LF and ends with LF; messages end with CR here: .*reply_end="'),
        (b"\r\n", "wrong terminator: .*answers to CR LF and ends with CR LF"),
    ],
)
def test_a_new_driver_at_an_instrument_with_other_ends(check: Callable[[int], Any], end: bytes, said: str) -> None:
    with peer(end, indicator(end), []) as port:
        row = check(port)
    assert not row["well"]
    assert re.search(said, row["answer"])


@pytest.mark.network
def test_a_new_driver_at_its_own_instrument_at_one_that_adds_lf_and_at_a_silent_one(
    check: Callable[[int], Any],
) -> None:
    """Replies that end with CR LF come through where they end with CR, and leave the LF before the next question."""
    with peer(b"\r", indicator(b"\r"), []) as port:
        row = check(port)
    assert row["well"]
    assert row["answer"] == "own make, load indicator, 0001"
    with peer(b"\r", indicator(b"\r\n"), []) as port:
        row = check(port)
    assert not row["well"]
    assert 'give the driver\'s `TextLine` reply_end="\\r\\n"' in row["answer"]
    with peer(b"\r", {}, []) as port:
        row = check(port)
    assert row["answer"].startswith("connected, and silent to ID? with LF, CR or CR LF")
