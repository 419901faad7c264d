"""A channel that only interlocks watch is told as not shown: nobody has seen that it reads right."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.documents import load_rig
from rigproof.errors import ExitCode
from rigproof.verdict.record import Verdict
from rigproof.verdict.watched import only_watched

LOCKS = "interlocks:\n"
WATER = "interlocks:\n  water: {channel: water, above: 60 °C}\n"  # named as its channel
STEPS = """\
rigproof: procedure/1
name: x
steps:
  - balance: {settle: 5 s}
  - arming: {source: pump, rest: 1 s}
  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 1 s, rest: 1 s, readings: 20}
"""
SAID = "right readings of water (watched by interlocks alone; no check rests on them)"


def test_it_stands_on_the_screen_in_the_verdict_and_in_the_report(
    spool_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Warm water is read with every reading, and trips when it is made to; neither shows that it is so warm."""
    folder, out = shutil.copytree(spool_folder, tmp_path / "rig"), tmp_path / "out"
    written = (folder / "rig.yaml").read_text("utf-8")
    (folder / "rig.yaml").write_text(written.replace(LOCKS, WATER), "utf-8")
    (folder / "acceptance.yaml").write_text(STEPS, "utf-8")
    assert run(["check", str(folder)]) == ExitCode.ACCEPT
    told = "No check of this procedure rests on water, watched by interlocks alone: nobody will have seen that it reads"
    assert told in capsys.readouterr().out
    assert run(["run", str(folder), "--simulated", "--out", str(out)]) == ExitCode.ACCEPT
    assert f"- {SAID} " in " ".join(capsys.readouterr().out.split())
    verdict = json.loads((out / "verdict.json").read_bytes())
    assert verdict["not_shown"][-1] == SAID
    assert ("trips", "water") in {(each["name"], each["subject"]) for each in verdict["checks"]}
    assert run(["report", str(out)]) == ExitCode.ACCEPT
    assert SAID in (out / "report.html").read_text("utf-8")


def test_only_what_no_check_rests_on(rig_text: str, sound: Verdict) -> None:
    """The water's temperature stands in the budget of the proof's decay; the load is told by the response to it."""
    difference = "  apart: {channel: wall temperature, against: water, apart by more than: 20 K}\n"
    rig = load_rig(text=rig_text.replace(LOCKS, WATER + difference), name="rig.yaml")
    assert only_watched(rig, sound.checks) == []
    early = [check for check in sound.checks if check.step_kind == "resistance"]
    assert only_watched(rig, early) == ["water", "wall temperature"]
    cycles = [check for check in sound.checks if check.step_kind == "cycles"]
    assert only_watched(rig, cycles) == ["water"]
    assert only_watched(load_rig(text=rig_text, name="rig.yaml"), cycles) == []


@pytest.fixture
def rig_text(spool_folder: Path) -> str:
    return (spool_folder / "rig.yaml").read_text("utf-8")


@pytest.fixture
def sound(spool: object, accept: Callable[..., Verdict], tmp_path: Path) -> Verdict:
    return accept(spool, tmp_path)
