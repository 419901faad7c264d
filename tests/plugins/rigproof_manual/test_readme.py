"""The page for users says what is true: its settings are read, its talk is held, its answers answer."""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from rigproof.__main__ import run
from rigproof.clock import WallClock
from rigproof.commands.scripted import Scripted
from rigproof.commands.terminal import Terminal
from rigproof.errors import ExitCode
from rigproof.instruments import Connection
from rigproof.people import Answers
from rigproof.plugins import Registry
from rigproof.run.interview import Interview
from rigproof_manual.display import Display
from rigproof_manual.meter import ManualMeter, MeterSettings
from rigproof_manual.source import SourceSettings

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "plugins" / "rigproof_manual" / "README.md").read_text("utf-8")


def snippets(language: str) -> list[str]:
    found: list[str] = re.findall(rf"```{language}\n(.*?)```", PAGE, re.DOTALL)
    assert found
    return found


METER, WEIGHTS = (next(iter(yaml.safe_load(snippet).values())) for snippet in snippets("yaml"))


@pytest.fixture
def thermometer() -> Callable[[Answers], ManualMeter]:
    def make(answers: Answers) -> ManualMeter:
        person = Interview(answers, lambda *_, **__: None, lambda: None)
        settings = MeterSettings.model_validate(METER["settings"])
        return ManualMeter(Connection("thermometer", "", "", 1.0, WallClock(), person=person), settings)

    return make


def test_the_talk_goes_as_shown(
    thermometer: Callable[[Answers], ManualMeter], echoing: Callable[..., io.StringIO]
) -> None:
    (talk,) = snippets("text")
    keyboard, terminal = os.openpty()
    screen = echoing(keyboard, re.findall("^> (.*)$", talk, re.MULTILINE))
    try:
        made = thermometer(Terminal(terminal, screen, "A. Example"))
        assert made.read([1], 1, 0.0)[0, 0] == pytest.approx(21.3)
    finally:
        os.close(keyboard)
        os.close(terminal)
    assert screen.getvalue() == talk


def test_the_answers_answer(thermometer: Callable[[Answers], ManualMeter], tmp_path: Path) -> None:
    (written,) = snippets("answers")
    file = tmp_path / "answers.txt"
    file.write_text(written, "utf-8")
    made = thermometer(Scripted(file, lambda _: None))
    assert made.open().serial_number == METER["identity"]["serial number"]
    assert made.read([1], ManualMeter.most_readings(made.settings) or 1, 0.0)[:, 0] == pytest.approx([21.3, 48.0])


def test_the_weights_are_read() -> None:
    weights = SourceSettings.model_validate(WEIGHTS["settings"]).set()
    assert weights.force_n(frozenset("ABC")) == pytest.approx(5 * 9.81, rel=2e-4)


@pytest.mark.parametrize("line", snippets("sh")[0].splitlines())
def test_the_commands_run(line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program, *arguments = line.replace("rigs/beam", str(ROOT / "rigs" / "beam")).split()
    assert program == "rigproof"
    monkeypatch.chdir(tmp_path)
    assert run(arguments) == ExitCode.ACCEPT


def test_every_setting_is_explained(registry: Registry) -> None:
    assert {METER["driver"], WEIGHTS["driver"]} <= set(registry.drivers)
    fields: dict[str, Any] = {**Display.model_fields, **MeterSettings.model_fields, **SourceSettings.model_fields}
    for name in fields:
        assert f"`{name.replace('_', ' ')}`" in PAGE or f"    {name}:" in PAGE, name
