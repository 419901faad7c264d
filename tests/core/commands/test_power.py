"""`rigproof power` on a short procedure of the spool."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from rigproof.__main__ import run

RIG = Path(__file__).parents[3] / "rigs" / "spool"
SHORT = """rigproof: procedure/1
name: A shunt calibration alone
decision: {rule: guarded acceptance, risk: 5 %}
steps:
  - resistance: {channels: all strain, change from packet: within 0.5 %}
  - shunt: {channels: all strain, resistor: 174.8 kΩ ± 0.1 %, settle: 0.1 s}
"""


@pytest.fixture
def short(tmp_path: Path) -> Path:
    folder = tmp_path / "rig"
    shutil.copytree(RIG, folder)
    (folder / "acceptance.yaml").write_text(SHORT, "utf-8")
    return folder


def ran(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    code = run(["power", *map(str, words)])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_one_flaw_over_its_sizes(short: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A procedure without load never accepts, so every size is caught; the point is what is told of it."""
    words = (short, "--flaw", "wrong-shunt", "--from", "0.1 %", "--to", "3 %", "--runs", "2", "--sizes", "5")
    code, out, _ = ran(capsys, *words, "--out", tmp_path / "out")
    assert code == 0
    assert "probability of acceptance against how much its resistance is above" in out
    assert "SIMULATED" in out
    with (tmp_path / "out" / "curve.csv").open(encoding="utf-8", newline="") as stream:
        lines = list(csv.DictReader(stream))
    assert [float(line["size in %"]) for line in lines] == pytest.approx([0.1, 0.825, 1.55, 2.275, 3.0])
    code, out, _ = ran(capsys, *words, "--out", tmp_path / "out", "--json")
    data: dict[str, Any] = json.loads(out)
    assert (code, data["runs"], data["runs_per_second"]) == (0, 0, None)  # nothing is run a second time
    assert len(data["points"]) == 5


def test_the_sound_rig(short: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ran(capsys, short, "--healthy", "--runs", "3", "--json")
    data = json.loads(out)
    assert code == 0
    assert data["runs"] == 3
    assert data["runs_per_second"] > 0
    assert data["accepted_share"] == 0  # nothing is loaded, so nothing is shown of the bond
    assert data["rows"][0]["ends"]["undecided"]["count"] == 3


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "choose one of them"),
        (("--healthy", "--matrix"), "choose one of them"),
        (("--flaw", "thin-wall"), "these three go together"),
        (("--flaw", "thin-wal", "--from", "1 %", "--to", "2 %"), "no flaw is called 'thin-wal'"),
        (("--flaw", "swapped-channels", "--from", "1 %", "--to", "2 %"), "has no size"),
        (("--flaw", "thin-wall", "--from", "3 %", "--to", "2 %"), "must rise; swap the sizes"),
        (("--flaw", "thin-wall", "--from", "3 bar", "--to", "4 bar"), "bar"),
    ],
)
def test_words_that_do_not_fit(
    short: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str
) -> None:
    code, _, err = ran(capsys, short, *words)
    assert code == 4
    assert said in err
