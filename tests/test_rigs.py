"""The page of each rig is true: its commands run, end as it says, and its flaw is caught by the check it names."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

from rigproof.__main__ import run

ROOT = Path(__file__).parent.parent
RIGS = sorted(folder for folder in (ROOT / "rigs").iterdir() if folder.is_dir())


def page(rig: Path) -> str:
    return (rig / "README.md").read_text("utf-8")


def commands(rig: Path) -> list[list[str]]:
    lines = [line for block in re.findall(r"```sh\n(.*?)```", page(rig), re.DOTALL) for line in block.splitlines()]
    return [shlex.split(line) for line in lines]


def test_every_rig_has_a_page() -> None:
    assert [rig.name for rig in RIGS] == ["beam", "branch", "forcecell", "spool"]
    for rig in RIGS:
        text = " ".join(page(rig).split())
        assert text.startswith(f"# {rig.name} "), rig.name
        assert re.search(r"Cautions: (pressure hurts people|weights fall|a press crushes)", text), rig.name
        assert "no protective device" in text or rig.name == "beam", rig.name
        assert "come first" in text, rig.name


@pytest.mark.parametrize("rig", RIGS, ids=lambda rig: rig.name)
def test_its_commands_end_as_the_page_says(rig: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    sound, flawed = commands(rig)
    assert sound == ["rigproof", "run", f"rigs/{rig.name}", "--simulated"]
    assert flawed[:-1] == [*sound, "--flaw"]
    assert run([*sound[1:], "--quiet", "--out", str(tmp_path / "sound")]) == 0
    assert "The verdict is `accept`" in page(rig)
    assert run([*flawed[1:], "--quiet", "--out", str(tmp_path / "flawed")]) == 1
    verdict = json.loads((tmp_path / "flawed" / "verdict.json").read_text("utf-8"))
    named = re.search(r"It is rejected by `(.*?)`: (.*?)\.", page(rig))
    assert named is not None
    rejected = {
        (c["step_kind"], f"{c['name']} of {c['subject']}") for c in verdict["checks"] if c["finding"] == "reject"
    }
    assert named.groups() in rejected
