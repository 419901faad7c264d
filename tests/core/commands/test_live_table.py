"""Runs at a pseudo-terminal; pyte reads the control characters and gives the screen as a terminal would show it."""

from __future__ import annotations

import fcntl
import json
import os
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pyte
import pytest
from wcwidth import wcswidth

LIMIT_S = 60.0
ESCAPES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")

# The simulated rig, whose time jumps otherwise, at a pace that can be watched; the safe end somewhat slower.
PACED = """\
import fcntl, sys, termios, time
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
from dataclasses import replace
from rigproof.run import simulated
class Paced:
    def __init__(self, clock):
        self.clock, self.now, self.utc = clock, clock.now, clock.utc
    def wait(self, seconds):
        self.clock.wait(seconds)
        time.sleep(seconds * (0.03 if seconds >= 1 else 0.3))
reach_of = simulated.reach_of
def paced(rig):
    reach = reach_of(rig)
    return replace(reach, clock=Paced(reach.clock))
simulated.reach_of = paced
{planted}
from rigproof.__main__ import main
main()
"""
HOLD = """\
rigproof: procedure/1
name: one stage and a hold
steps:
  - proof: {source: pump, to: 20 bar, stages: [100 %], dwell: 2 s, hold: 60 s, rest: 2 s}
"""
DIRECT = """\
import fcntl, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
from rigproof.__main__ import main
main()
"""


class Watched:
    """A program at a terminal of its own, so that Ctrl-C reaches it."""

    def __init__(self, program: str, *arguments: str, columns: int = 80, lines: int = 24, **environment: str) -> None:
        self._master, slave = os.openpty()
        self.screen = pyte.HistoryScreen(columns, lines, history=5000)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = b""
        self.began = time.monotonic()
        self._window(columns, lines)
        self.settings = termios.tcgetattr(self._master)
        kept = {key: value for key, value in os.environ.items() if key not in {"COLUMNS", "LINES", "NO_COLOR"}}
        self.process = subprocess.Popen(
            [sys.executable, "-c", program, *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
            env=kept | {"TERM": "xterm"} | environment,
        )
        os.close(slave)

    @property
    def shown(self) -> str:
        """The screen, without the blanks at the ends of its lines."""
        return "\n".join(line.rstrip() for line in self.screen.display)

    @property
    def lines(self) -> list[str]:
        """All that was ever written, line by line, without control characters."""
        text = ESCAPES.sub("", self.raw.decode("utf-8", "replace"))
        return [line.rstrip("\r").rpartition("\r")[2] for line in text.split("\r\n")]  # `^C` is written over

    def until(self, words: str | Callable[[str], bool]) -> str:
        """Read until the screen shows it; returns the screen."""
        found = (lambda shown: words in shown) if isinstance(words, str) else words
        end = time.monotonic() + LIMIT_S
        while not found(self.shown):
            assert time.monotonic() < end, self.shown
            assert self._read(), self.shown
        return self.shown

    def type(self, keys: str) -> None:
        os.write(self._master, keys.encode())

    def resize(self, columns: int, lines: int) -> None:
        self.screen.resize(lines, columns)
        self._window(columns, lines)

    def until_asked(self, times: int) -> None:
        """Read until so many questions stood there, and the last one waits for its answer."""
        self.until(lambda _: len(re.findall(rb"\n> ", self.raw)) >= times and self.raw.endswith(b"\n> "))

    def end(self) -> tuple[int, str]:
        """Exit code and what the screen shows at last."""
        while self._read():
            pass
        code = self.process.wait(LIMIT_S)
        self.modes = termios.tcgetattr(self._master)
        return code, self.shown

    def hang_up(self) -> int:
        """The window is closed; returns the exit code."""
        os.close(self._master)
        self._master = -1
        return self.process.wait(LIMIT_S)

    def kill(self, number: int) -> None:
        os.kill(self.process.pid, number)

    def close(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        if self._master >= 0:
            os.close(self._master)

    def _window(self, columns: int, lines: int) -> None:
        fcntl.ioctl(self._master, termios.TIOCSWINSZ, struct.pack("HHHH", lines, columns, 0, 0))

    def _read(self) -> bool:
        if not select.select([self._master], [], [], LIMIT_S)[0]:
            return False
        try:
            data = os.read(self._master, 65536)
        except OSError:  # the program has ended
            return False
        self.raw += data
        self._stream.feed(data)
        return bool(data)


def wait_for(file: Path, words: str) -> None:
    """Until a file has these words."""
    end = time.monotonic() + LIMIT_S
    while not file.exists() or words not in file.read_text("utf-8"):
        assert time.monotonic() < end, f"{file} never had {words!r}"
        time.sleep(0.05)


@pytest.fixture
def watch() -> Iterator[Callable[..., Watched]]:
    begun: list[Watched] = []

    def begin(program: str, *arguments: object, **how: Any) -> Watched:
        begun.append(Watched(program, *map(str, arguments), **how))
        return begun[-1]

    yield begin
    for watched in begun:
        watched.close()


@pytest.fixture
def spool_rig(spool_folder: Path, tmp_path: Path) -> Path:
    """The spool, with a procedure that comes to a hold within seconds."""
    folder = tmp_path / "rig"
    folder.mkdir()
    for name in ("rig.yaml", "twin.yaml"):
        (folder / name).write_text((spool_folder / name).read_text("utf-8"), "utf-8")
    (folder / "acceptance.yaml").write_text(HOLD, "utf-8")
    return folder


@pytest.fixture
def at_hold(spool_rig: Path, tmp_path: Path, watch: Callable[..., Watched]) -> Callable[..., Watched]:
    """A paced run of that rig that has come to its hold."""

    def begin(*arguments: str, planted: str = "", words: str = "now   hold", **how: Any) -> Watched:
        program = PACED.replace("{planted}", planted)
        watched = watch(program, "run", spool_rig, "--simulated", "--out", tmp_path / "out", *arguments, **how)
        watched.until(words)
        return watched

    return begin


def entries(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (folder / "journal.jsonl").read_text("utf-8").splitlines()]


def assert_left_safe(folder: Path) -> None:
    """It was under pressure, and at the end the source was seen safe."""
    kept = entries(folder)
    assert max(max(e["values"]["pressure"]) for e in kept if "pressure" in e.get("values", {})) > 19e5
    safe = [e for e in kept if e["kind"] == "safe"][-1]
    assert safe["confirmed"]
    assert abs(safe["load"]) <= 0.5e5


def assert_restored(watched: Watched) -> None:
    """Nothing was hidden, taken over or bound, and no line is wider than the terminal."""
    assert not watched.screen.cursor.hidden
    assert watched.screen.cursor.x == 0
    assert b"\x1b[?" not in watched.raw  # no mode was set: cursor, other screen, mouse, keys
    assert max(map(wcswidth, watched.lines)) <= 80
    assert watched.modes == watched.settings


def row(shown: str, channel: str) -> str:
    return next(line for line in shown.splitlines() if re.match(rf"[! ] +{channel} ", line))


# -- the table -----------------------------------------------------------------------------------------------------


def test_a_hold_at_80_columns_and_what_stays_of_it(at_hold: Callable[..., Watched], tmp_path: Path) -> None:
    watched = at_hold()
    shown = watched.until(lambda screen: "water " in screen and "s left" in screen)
    lines = shown.splitlines()
    assert "SIMULATED  step 1 of 1: proof" in shown
    assert re.search(r"left: step about [0-9mins ]+, run about [0-9mins ]+$", shown, re.MULTILINE)
    assert re.search(r"^now   hold, [0-9mins ]+ left$", shown, re.MULTILINE)
    assert "next  pump connected to the part" in lines
    pressure, hoop, water = (row(shown, name) for name in ("pressure", "hoop", "water"))
    assert re.fullmatch(r" +pressure +20\.\d\d  bar +20\.20  target +now", pressure)
    # by hand, Lamé's closed tube of 219.1 mm x 4.52 mm: hoop strain outside 9.44 µε/bar, 190.7 µε at 20.2 bar
    assert re.fullmatch(r" +hoop +1[89]\d\.\d  µε +19[01]\.\d  ± 6\.\d +now", hoop)
    assert re.fullmatch(r" +water +\d\d\.\d\d  °C +now", water)
    head = next(line for line in lines if line.lstrip().startswith("channel "))
    assert {line.index(unit) for line, unit in ((pressure, "bar"), (hoop, "µε"), (water, "°C"))} == {
        head.index("reading") + len("reading") + 2
    }
    code, shown = watched.end()
    assert (code, shown.rstrip().splitlines()[-1]) == (0, "verdict: accept (simulated)")
    assert "now   " not in shown
    assert_restored(watched)
    frames, seconds = watched.raw.count(b"\x1b[J"), time.monotonic() - watched.began
    assert frames <= 10 * seconds
    said = [line.strip() for line in watched.lines]
    assert (
        said.index("1/1 proof")
        < said.index("stage 1 of 1: 100 %: pump to 20.2 bar")
        < said.index("lowering: pump to 0 bar")
    )


def test_ctrl_c_in_a_hold_shows_the_pressure_coming_down_until_it_is_down(
    at_hold: Callable[..., Watched], tmp_path: Path
) -> None:
    watched = at_hold()
    watched.type("\x03")
    watched.until("!!!   stopped: by the operator (Ctrl-C)")
    falling = []
    for share in (0.9, 0.5, 0.2):

        def below(shown: str, share: float = share) -> bool:
            found = re.search(r"^now   making pump safe: .*pressure (\S+) bar", shown, re.MULTILINE)
            falling.extend([float(found[1])] if found else [])
            return bool(found) and falling[-1] < share * 20.2

        shown = watched.until(below)
        assert "nothing cuts it short, a second Ctrl-C neither" in shown
        watched.type("\x03")
    assert falling == sorted(falling, reverse=True)
    code, shown = watched.end()
    assert code == 3
    assert "    pump safe: source reports its safe state, pressure" in "\n".join(watched.lines)
    assert shown.rstrip().splitlines()[-1] == "verdict: void (simulated)"
    assert_left_safe(tmp_path / "out")
    assert_restored(watched)


def test_a_trip_is_an_alarm_on_the_screen(at_hold: Callable[..., Watched]) -> None:
    watched = at_hold("--flaw", "overshoot=100 %", words="!!!   tripped: interlock 'overpressure': pressure at")
    code, _ = watched.end()
    assert code == 3
    assert_restored(watched)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_other_stop_signals(at_hold: Callable[..., Watched], tmp_path: Path, number: int) -> None:
    watched = at_hold()
    watched.kill(number)
    code, shown = watched.end()
    assert (code, shown.rstrip().splitlines()[-1]) == (3, "verdict: void (simulated)")
    assert "!!! stopped: by the" in "\n".join(watched.lines)
    assert_left_safe(tmp_path / "out")
    assert_restored(watched)


def test_sigkill_leaves_the_terminal_as_it_was(at_hold: Callable[..., Watched]) -> None:
    watched = at_hold()
    watched.kill(signal.SIGKILL)
    assert watched.end()[0] == -signal.SIGKILL
    assert_restored(watched)


def test_an_exception_in_a_step(at_hold: Callable[..., Watched], tmp_path: Path) -> None:
    planted = "from rigproof.steps.proof import Proof\nProof._temperatures = lambda *_: 1 / 0\n"
    watched = at_hold(planted=planted, words="!!!   defect: ZeroDivisionError")
    code, _ = watched.end()
    assert (code, "Traceback" in "\n".join(watched.lines)) == (3, False)
    assert_left_safe(tmp_path / "out")
    assert_restored(watched)


def test_a_table_that_cannot_be_drawn_ends_no_run(at_hold: Callable[..., Watched]) -> None:
    planted = "from rigproof.commands import live_table\nlive_table.drawn = lambda *_: 1 / 0\n"
    watched = at_hold(planted=planted, words="verdict: accept")
    assert watched.end()[0] == 0
    said = "no table from here on, it cannot be drawn: ZeroDivisionError: division by zero"
    assert watched.lines.count(said) == 1
    assert "    lowering: pump to 0 bar" in watched.lines


def test_a_closed_terminal(at_hold: Callable[..., Watched], tmp_path: Path) -> None:
    assert at_hold().hang_up() == 3
    assert entries(tmp_path / "out")[-1]["why"] == "stopped by the terminal, which went away (SIGHUP)"
    assert_left_safe(tmp_path / "out")


def test_a_halted_terminal_halts_no_run(at_hold: Callable[..., Watched], tmp_path: Path) -> None:
    """Ctrl-S, as by mistake, in the hold: the rig is taken to its end all the same; Ctrl-Q shows what was missed."""
    watched = at_hold()
    watched.type("\x13")
    wait_for(tmp_path / "out" / "journal.jsonl", '"kind":"end"')
    assert "lowering: pump to 0 bar" not in watched.shown
    watched.type("\x11")
    code, shown = watched.end()
    assert (code, shown.rstrip().splitlines()[-1]) == (0, "verdict: accept (simulated)")
    assert "    lowering: pump to 0 bar" in watched.lines


def test_ctrl_z_does_not_leave_a_rig_under_load_alone(at_hold: Callable[..., Watched]) -> None:
    watched = at_hold()
    watched.type("\x1a")
    assert watched.end()[0] == 0


@pytest.mark.parametrize(("columns", "lines"), [(60, 12), (30, 8)])
def test_other_sizes(at_hold: Callable[..., Watched], columns: int, lines: int) -> None:
    watched = at_hold(columns=columns, lines=lines)
    shown = watched.until(lambda screen: "s left" in screen)
    table = shown.splitlines()[-lines:]
    assert any(line.startswith("now   hold") for line in table)
    assert bool(re.search(r" 19[01]\.\d", shown)) is (columns >= 60)
    assert watched.end()[0] == 0
    assert max(map(wcswidth, watched.lines)) <= columns
    assert not watched.screen.cursor.hidden


def test_a_window_that_is_resized(at_hold: Callable[..., Watched]) -> None:
    watched = at_hold(columns=100, lines=30)
    watched.resize(50, 20)
    watched.until(lambda screen: "-" * 49 in screen.splitlines())
    watched.resize(80, 24)
    shown = watched.until(lambda screen: "next  " in screen.rpartition("-" * 79)[0].rpartition("-" * 79)[2])
    *_, table, _ = shown.split("-" * 79)
    assert table.count("next  ") == 1
    assert "now   hold" in table
    assert watched.end()[0] == 0


def test_on_a_dumb_terminal(at_hold: Callable[..., Watched]) -> None:
    plain = at_hold(words="verdict: accept", TERM="dumb")
    assert plain.end()[0] == 0
    assert "    hold: 1 min" in plain.lines
    assert b"\x1b" not in plain.raw
    assert b"\r\n" in plain.raw


def test_bold_is_all_that_is_used(at_hold: Callable[..., Watched]) -> None:
    watched = at_hold(NO_COLOR="1")
    watched.end()
    assert set(re.findall(rb"\x1b\[([0-9;]*)m", watched.raw)) <= {b"1", b"0"}


# -- a person who types --------------------------------------------------------------------------------------------

BY_HAND = """\
rigproof: procedure/1
name: load alone
steps:
  - cycles: {source: weights, to: 58.85 N, times: 2, levels: 3, exercise: 0, dwell: 3 s, rest: 0 s}
"""
PLATES = ("D-0005", "", "S-0031", "", "R-0117", "", "M-0020", "", "yes")


def test_the_table_makes_room_for_a_question(beam_folder: Path, tmp_path: Path, watch: Callable[..., Watched]) -> None:
    (beam_folder / "acceptance.yaml").write_text(BY_HAND, "utf-8")
    watched = watch(DIRECT, "run", beam_folder, "--person", "A. Example", "--out", tmp_path / "out")
    answers = (*PLATES, *("1445", "", "555", "") * 2, "A")
    for number, answer in enumerate(answers):
        watched.until_asked(number + 1)
        assert "next  " not in watched.shown  # the terminal belongs to the question
        assert watched.shown.splitlines()[watched.screen.cursor.y] == ">"
        watched.type(f"{answer}\n")
    shown = watched.until("now   dwell, ")
    assert re.fullmatch(r" +load +0\.01962  kN +0\.01962  target +now", row(shown, "load"))
    watched.type("\x03")
    watched.until("TAKE ALL WEIGHTS OFF THE PAN NOW")
    watched.until("!!! stopped: by the operator (Ctrl-C)")
    watched.until_asked(len(answers) + 1)
    watched.type("yes\n")
    code, shown = watched.end()
    assert (code, shown.rstrip().splitlines()[-1]) == (3, "verdict: void")
    assert_restored(watched)
