"""A stranger's plugin, installed from its own distribution, in a whole simulated acceptance.

`.ci/run` installs tests/outside/rigproof-example; elsewhere: pip install ./tests/outside/rigproof-example
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any

import pytest

from rigproof.plugins import load_registry

pytestmark = pytest.mark.skipif(
    "example" not in entry_points(group="rigproof").names,
    reason="the outside example is not installed: pip install ./tests/outside/rigproof-example",
)
SPOOL = Path(__file__).parent / "rigs" / "spool"
PROCEDURE = """\
rigproof: procedure/1
name: At rest
decision: {{rule: guarded acceptance, risk: 5 %}}
steps:
  - balance: {{channels: all strain, settle: 60 s}}
  - rest: {{time: 3 min, drift: within {limit}}}
"""


def rigproof(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "rigproof", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def run(folder: Path, limit: str) -> tuple[int, dict[str, Any]]:
    """Exit code and verdict of a simulated run of the spool at rest."""
    shutil.copytree(SPOOL, folder / "spool")
    (folder / "spool" / "acceptance.yaml").write_text(PROCEDURE.format(limit=limit), "utf-8")
    said = rigproof("run", folder / "spool", "--simulated", "--seed", "7", "--out", folder / "out")
    verdict = folder / "out" / "verdict.json"
    assert verdict.exists(), said.stderr
    read: dict[str, Any] = json.loads(verdict.read_text("utf-8"))
    return said.returncode, read


def test_the_example_is_listed_with_what_it_supplies() -> None:
    example = load_registry().sources["example"]
    assert (example.distribution, example.module) == ("rigproof-example", "rigproof_example")
    assert example.supplies == {"steps": ["rest"], "reports": ["notice"]}


def test_its_step_runs_and_is_judged_and_its_report_is_written(tmp_path: Path) -> None:
    code, verdict = run(tmp_path, "5 µε")
    rest = [check for check in verdict["checks"] if check["step_kind"] == "rest"]
    assert [(check["subject"], check["finding"]) for check in rest] == [("hoop", "accept"), ("axial", "accept")]
    assert all(check["budget"] for check in rest)
    assert "no drift over minutes without load" in verdict["shown"]
    assert (code, verdict["verdict"]) == (2, "undecided")  # nothing here loads the part
    assert {"example", "steps", "twin"} <= {plugin["name"] for plugin in verdict["plugins"]}

    assert rigproof("report", tmp_path / "out").returncode == 0
    notice = (tmp_path / "out" / "notice.txt").read_text("utf-8")
    assert "SIMULATED: UNDECIDED" in notice
    assert "accept     rest: drift at rest of hoop (over 3 min): " in notice


def test_its_step_does_not_accept_what_it_cannot_tell(tmp_path: Path) -> None:
    """A limit far below the channel's own zero drift: no reading could show conformity."""
    _, verdict = run(tmp_path, "0.001 µε")
    findings = {check["finding"] for check in verdict["checks"] if check["step_kind"] == "rest"}
    assert findings
    assert "accept" not in findings


def test_its_parameters_are_checked_like_any_others(tmp_path: Path) -> None:
    shutil.copytree(SPOOL, tmp_path / "spool")
    (tmp_path / "spool" / "acceptance.yaml").write_text(PROCEDURE.format(limit="1 %"), "utf-8")
    said = rigproof("check", tmp_path / "spool")
    assert said.returncode == 4
    assert "acceptance.yaml:6:" in said.stdout + said.stderr
    assert "within 5 µε" in said.stdout + said.stderr
