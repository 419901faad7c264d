"""The page for users: its commands run as they stand, on a beam that waits for nothing; the curve without its runs."""

from __future__ import annotations

import re
import shlex
import shutil
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.campaign.crew import Crew
from rigproof.campaign.intervals import Share
from rigproof.campaign.trial import Result, Trial
from rigproof.commands import power
from rigproof.quantities import parse

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "core" / "rigproof" / "campaign" / "README.md").read_text("utf-8")
COMMANDS = dict(re.findall(r"<!-- (\w+) -->\n```sh\n(.*?)\n```", PAGE, re.DOTALL))
SAYS = {
    "healthy": "sound rig",
    "matrix": "This rig cannot have",
    "curve": "consumer's risk, loose-gauge=10 % is accepted",
}


def loose(trial: Trial) -> Result:
    """In place of an acceptance: a gauge that loses 6 % is found."""
    size = parse(trial.flaws[0].partition("=")[2], "ratio").value if trial.flaws else 0.0
    return Result(trial, "accept" if size < 0.06 else "reject", "", ())


@pytest.mark.parametrize("name", SAYS)
def test_the_commands_run(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(ROOT / "rigs" / "beam", tmp_path / "rigs" / "beam")
    monkeypatch.chdir(tmp_path)
    if name == "curve":  # 436 acceptances are for the night
        monkeypatch.setattr(power, "Job", lambda _rig, _documents: loose)
        monkeypatch.setattr(power, "local", lambda workers: Crew(lambda: ThreadPoolExecutor(workers), workers))
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
