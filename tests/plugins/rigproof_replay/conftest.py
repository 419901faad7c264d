"""Tables and drivers of a few lines, and one simulated run of the spool to be replayed."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from rigproof.clock import JumpingClock
from rigproof.errors import DocumentError, Fault
from rigproof.instruments import Connection
from rigproof.run.plan import Plan
from rigproof.verdict.record import Verdict
from rigproof_replay.replay import Replay
from rigproof_replay.settings import ReplaySettings, ReplaySourceSettings
from rigproof_replay.source import ReplaySource

ELAPSED = {"column": "t", "form": "elapsed"}
ROOT = Path(__file__).parents[3]


@pytest.fixture
def replay(tmp_path: Path) -> Callable[..., Replay]:
    """A function: a table's text or bytes, and settings -> a driver of it, on a clock that jumps."""

    def make(text: str | bytes, kinds: dict[int, str] | None = None, **changed: Any) -> Replay:
        path = tmp_path / "log.csv"
        path.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
        written = {"time": ELAPSED, "inputs": {"1": {"column": "p", "unit": "bar"}}, "longest gap": "1 h"}
        written |= {key.replace("_", " "): value for key, value in changed.items()}
        settings = ReplaySettings.model_validate(written)
        reads = kinds or dict.fromkeys(settings.inputs, "gauge pressure")
        return Replay(Connection("logger", "log.csv", "", 1.0, JumpingClock(), tmp_path, reads), settings)

    return make


@pytest.fixture
def source(tmp_path: Path) -> Callable[..., ReplaySource]:
    """A function: a table's text with the columns t and p (bar) -> a source of it, open."""

    def make(text: str, **changed: Any) -> ReplaySource:
        (tmp_path / "log.csv").write_text(text, "utf-8")
        written = {"time": ELAPSED, "longest gap": "1 h", "load": {"column": "p", "unit": "bar"}}
        written |= {"within": "0.2 bar", "safe below": "0.5 bar", **changed}
        settings = ReplaySourceSettings.model_validate(written)
        driver = ReplaySource(Connection("pump", "log.csv", "", 1.0, JumpingClock(), tmp_path), settings)
        driver.open()
        return driver

    return make


@pytest.fixture
def faults(replay: Callable[..., Replay]) -> Callable[..., list[Fault]]:
    """A function: a table that cannot be used -> its faults."""

    def find(text: str | bytes, **changed: Any) -> list[Fault]:
        with pytest.raises(DocumentError) as caught:
            replay(text, **changed).read_record()
        return list(caught.value.faults)

    return find


@dataclass(frozen=True)
class Original:
    """A run that was recorded."""

    folder: Path  # of the run
    verdict: Verdict


@pytest.fixture(scope="session")
def original(accept: Callable[..., Verdict], spool: Plan, tmp_path_factory: pytest.TempPathFactory) -> Original:
    """The spool's whole acceptance, simulated."""
    folder = tmp_path_factory.mktemp("original")
    return Original(folder, accept(spool, folder, seed=7))


@pytest.fixture
def replayed_rig(tmp_path: Path, original: Original) -> Callable[..., Path]:
    """A function: `instruments:` of a rig.yaml, changes (old, new) -> a folder of the spool with its journal."""

    def make(instruments: str, *changes: tuple[str, str], steps: str = "") -> Path:
        folder = tmp_path / "rig"
        shutil.copytree(ROOT / "tests" / "rigs" / "spool", folder)
        shutil.copy(original.folder / "journal.jsonl", folder)
        text = (folder / "rig.yaml").read_text("utf-8")
        head, rest = text.split("instruments:\n  bridge:", 1)
        text = head + instruments + "\nsources:\n" + rest.split("sources:\n", 1)[1]
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new)
        (folder / "rig.yaml").write_text(text, "utf-8")
        if steps:
            (folder / "acceptance.yaml").write_text(f"rigproof: procedure/1\nname: x\nsteps:\n{steps}", "utf-8")
        return folder

    return make


@pytest.fixture(scope="session")
def page() -> Callable[[str], str]:
    """A function: the name of a snippet -> its text in the README of this plugin."""
    text = (ROOT / "plugins" / "rigproof_replay" / "README.md").read_text("utf-8")

    def find(name: str) -> str:
        return text.split(f"<!-- {name} -->\n```", 1)[1].split("\n", 1)[1].split("```", 1)[0]

    return find
