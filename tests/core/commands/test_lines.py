"""A run in a pipe: plain lines, where something changes."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Any

import pytest

from rigproof.__main__ import run
from rigproof.clock import WallClock
from rigproof.commands.lines import Lines, duration
from rigproof.commands.outlet import Outlet, printable
from rigproof.errors import ExitCode
from rigproof.run.opening import Reach
from rigproof.run.plan import Plan
from rigproof.run.progress import Reading


def test_the_spool_in_a_pipe(spool_folder: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert run(["run", str(spool_folder), "--simulated", "--out", str(tmp_path / "out")]) == ExitCode.ACCEPT
    shown = capfd.readouterr().out
    assert all(letter.isprintable() or letter == "\n" for letter in shown)
    begun, _, _ = shown.partition("rules:")
    lines = begun.splitlines()
    assert "    settling: 1 min" in lines
    held = [line for line in lines if line.startswith("    hold")]
    assert held[0] == "    hold: 10 min"
    assert [line.partition(" left: ")[0] for line in held[1:]] == [f"    hold, {n} min" for n in range(9, 0, -1)]
    assert all(re.search(r"pressure 3[56]\.?\d* bar, hoop 33\d\.?\d* µε", line) for line in held[1:])
    assert "water" in held[1]
    assert len(lines) < 220


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"operator": "A. Example"}, "operator: A. Example"),
        ({}, "operator: not named (`--operator NAME`)"),
        ({"simulated": True}, ""),
        ({"simulated": True, "operator": "A. Example"}, "operator: A. Example"),
    ],
)
def test_who_takes_a_run(spool: Plan, capsys: pytest.CaptureFixture[str], how: dict[str, Any], said: str) -> None:
    lines = Lines(Outlet(sys.stdout))
    lines.begun(spool, Reach(WallClock(), **how), Path("out"))
    lines.close()
    assert [line for line in capsys.readouterr().out.splitlines() if line.startswith("operator")] == [said][: len(said)]


def test_what_an_instrument_says_cannot_steer_the_terminal() -> None:
    assert printable("W-9\x1b[2J\x07 µΩ") == "W-9�[2J� µΩ"


def test_a_load_that_comes_down_is_told_when_it_has_fallen_much(capsys: pytest.CaptureFixture[str]) -> None:
    lines = Lines(Outlet(sys.stdout))
    for bar in (36.0, 35.0, 30.0, 17.9, 17.0, 9.1, 8.9, 8.0, 4.0):
        reading = Reading(bar * 1e5, "gauge pressure", f"{bar} bar", 0.0)
        lines.lowering("pump", reading, f"pressure {bar} bar")
    lines.safe("pump", None, "pressure 0.1 bar")
    lines.close()
    told = [line.rpartition("pressure ")[2] for line in capsys.readouterr().out.splitlines()]
    assert told == ["36.0 bar", "17.9 bar", "8.9 bar", "4.0 bar", "0.1 bar"]


def test_a_wait_that_is_over_is_not_named_in_the_next_step(capsys: pytest.CaptureFixture[str]) -> None:
    lines = Lines(Outlet(sys.stdout))
    lines.waiting("cure of bonding", 120.0, 0.0)
    lines.waiting("cure of bonding", 60.0, 60.0)
    before = lines.looks
    lines.step(6, 16, "resistance")
    assert (before, lines.looks) == (True, False)
    lines.close()
    assert "left" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0.4, "0 s"), (59.4, "59 s"), (60, "1 min"), (552, "9 min 12 s"), (4800, "1 h 20 min"), (90000, "25 h 0 min")],
)
def test_durations(seconds: float, said: str) -> None:
    assert duration(seconds) == said
