"""The page for users: its commands run as they stand, on a beam that waits for nothing."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.campaign.intervals import Share

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "core" / "rigproof" / "campaign" / "README.md").read_text("utf-8")
COMMANDS = dict(re.findall(r"<!-- (\w+) -->\n```sh\n(.*?)\n```", PAGE, re.DOTALL))
SAYS = {
    "healthy": "sound rig",
    "matrix": "This rig cannot have",
    "curve": "consumer's risk, loose-gauge=10 % is accepted",
}


@pytest.mark.parametrize("name", SAYS)
def test_the_commands_run(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(ROOT / "rigs" / "beam", tmp_path / "rigs" / "beam")
    monkeypatch.chdir(tmp_path)
    program, *words = shlex.split(COMMANDS[name])
    assert program == "rigproof"
    assert run(words) == (1 if name == "matrix" else 0)  # the beam has holes
    assert SAYS[name] in capsys.readouterr().out


def test_the_figures_on_the_page_are_true() -> None:
    assert COMMANDS.keys() == SAYS.keys()
    assert "0 of 20 runs still leave 17 %" in PAGE
    assert round(100 * Share(0, 20).interval()[1]) == 17
    assert "takes 72 runs" in PAGE
    assert Share(0, 72).interval()[1] < 0.05 <= Share(0, 71).interval()[1]
