"""Two verdicts side by side."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.campaign.trial import Trial, acceptance
from rigproof.verdict.difference import differences
from rigproof.verdict.record import Verdict, to_bytes

RIG = Path(__file__).parents[3] / "tests" / "rigs" / "spool"


@pytest.fixture(scope="module")
def sound() -> Verdict:
    return acceptance(RIG, Trial((), 3))


@pytest.fixture(scope="module")
def flawed() -> Verdict:
    return acceptance(RIG, Trial(("wrong-shunt=2 %",), 3))


def kept(verdict: Verdict, folder: Path) -> Path:
    folder.mkdir()
    (folder / "verdict.json").write_bytes(to_bytes(verdict))
    return folder


def test_the_same_twice(sound: Verdict, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folders = kept(sound, tmp_path / "a"), kept(sound, tmp_path / "b")
    assert run(["diff", *map(str, folders)]) == 0
    assert capsys.readouterr().out == "nothing differs\n"


def test_a_flaw_shows_where_it_is(
    sound: Verdict, flawed: Verdict, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folders = kept(sound, tmp_path / "a"), kept(flawed, tmp_path / "b")
    assert run(["diff", str(folders[0]), str(folders[1] / "verdict.json")]) == 1
    out = capsys.readouterr().out
    assert "verdict: accept -> reject" in out
    assert "  4 shunt: shunt reading of hoop: accept -> reject\n" in out
    assert "  step 6 cycles: whole, accept -> not taken, " in out
    assert max(map(len, out.splitlines())) < 300
    assert re.search(r"    measured -0\.50\d{3}\(\d\d\) -> -0\.49\d{3}\(\d\d\) mV/V\n", out)
    assert "1 resistance: change from packet" not in out  # the shunt changes nothing before it
    assert len(out.splitlines()) < 50
    assert run(["diff", *map(str, folders), "--all"]) == 1
    every = capsys.readouterr().out
    shunt = every.partition("4 shunt: shunt reading of hoop\n")[2].partition("\n4 ")[0]
    assert "  finding: accept -> reject\n" in shunt
    assert re.search(r"  equivalent strain: -9\d\d\.\d+ µε -> -9\d\d\.\d+ µε\n", shunt)
    assert "steps 6 taken: whole -> not taken" in every
    assert every.count(" -> ") == int(every.splitlines()[-1].removesuffix(" differences"))
    assert run(["diff", *map(str, folders), "--json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert {"where": "", "at": "verdict", "old": "accept", "new": "reject"} in data


def test_rounding_is_no_difference(sound: Verdict) -> None:
    moved = sound.checks[0].model_copy(update={"measured": (sound.checks[0].measured or 0.0) * (1 + 1e-13)})
    assert differences(sound, sound.model_copy(update={"checks": (moved, *sound.checks[1:])})) == []


def test_checks_that_come_and_go(sound: Verdict) -> None:
    fewer = sound.model_copy(update={"checks": sound.checks[1:]})
    (gone,) = differences(sound, fewer)
    assert (gone.where, gone.new) == ("1 resistance: change from packet of hoop", "is not made")
    (came,) = differences(fewer, sound)
    assert came.old == "was not made"


def test_no_verdict_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["diff", str(tmp_path), str(tmp_path)]) == 4
    assert "verdict.json" in capsys.readouterr().err


def test_a_check_whose_worst_level_moved_is_the_same_check(
    sound: Verdict, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = next(i for i, check in enumerate(sound.checks) if check.name == "hysteresis")
    moved = sound.checks[first].model_copy(update={"at": "elsewhere", "k": 9.0})
    other = sound.model_copy(update={"checks": (*sound.checks[:first], moved, *sound.checks[first + 1 :])})
    assert [(each.at, each.new) for each in differences(sound, other)] == [("at", "elsewhere"), ("k", "9")]
    folders = kept(sound, tmp_path / "a"), kept(other, tmp_path / "b")
    assert run(["diff", *map(str, folders)]) == 1
    line = next(line for line in capsys.readouterr().out.splitlines() if "hysteresis" in line)
    assert line.endswith(f": at: {sound.checks[first].at} -> elsewhere; also changed: k")


def test_the_load_that_was_left_has_its_unit(sound: Verdict) -> None:
    end = sound.safe_end[0].model_copy(update={"load": 38_300.0})
    (found,) = differences(sound, sound.model_copy(update={"safe_end": (end,)}))
    assert (found.at, found.new) == ("safe end 1 load", "0.383 bar")
