"""The documents say what is true: snippets run, every command, hook, step kind and folder is named."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from rigproof import hookspecs
from rigproof.__main__ import COMMANDS, cli
from rigproof.plugins import Registry

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")
SNIPPETS = re.findall(r"```python\n(.*?)```", GUIDE, re.DOTALL)


@pytest.mark.parametrize("number", range(len(SNIPPETS)))
def test_python_snippets_run(number: int) -> None:
    exec(compile(SNIPPETS[number], f"DEVELOPERS.md snippet {number + 1}", "exec"), {"__name__": "snippet"})


def test_the_drivers_snippet_is_a_driver(registry: Registry) -> None:
    from rigproof.clock import WallClock
    from rigproof.instruments import Connection, Driver, Settings

    space: dict[str, object] = {"__name__": "snippet"}
    exec(compile(SNIPPETS[1], "DEVELOPERS.md", "exec"), space)
    kind = space["DialGauge"]
    assert isinstance(kind, type)
    assert issubclass(kind, Driver)
    dial = kind(Connection("dial", "", "", 1.0, WallClock()), Settings())
    assert dial.read([1], 2, 0.0).tolist() == [[20.0], [20.0]]  # type: ignore[attr-defined]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_in_the_readme_and_explains_itself(command: str) -> None:
    assert f"rigproof {command}" in README or f"`{command} " in README
    shown = CliRunner().invoke(cli, [command, "--help"])
    assert shown.exit_code == 0
    assert shown.output.startswith("Usage:")


def test_every_option_explains_itself() -> None:
    for name in COMMANDS:
        command = cli.get_command(None, name)  # type: ignore[arg-type]
        assert command is not None
        for parameter in command.params:
            if parameter.param_type_name == "option":
                assert getattr(parameter, "help", None), f"{name}: {parameter.opts[0]} has no help"


def test_every_hook_has_a_contract() -> None:
    for name in dir(hookspecs):
        if name.startswith("rigproof_"):
            assert len(getattr(hookspecs, name).__doc__ or "") > 60, name


def test_every_step_kind_is_explained(registry: Registry) -> None:
    for kind, step in registry.steps.items():
        assert step.__doc__, kind
        assert step.judge.__doc__, kind


def test_every_folder_is_in_the_readme() -> None:
    for folder in (ROOT / "plugins").iterdir():
        if folder.is_dir() and folder.name != "__pycache__":
            assert f"plugins/{folder.name}/" in README, folder.name


def test_the_readme_has_one_line_for_each_of_the_two_commands() -> None:
    for marker in ("run", "test"):
        block = re.search(rf"<!-- {marker} -->\n```sh\n(.*?)```", README, re.DOTALL)
        assert block is not None
        assert block[1].count("\n") == 1


def test_the_changelog_knows_this_version() -> None:
    version = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["version"]
    assert f"## {version}" in (ROOT / "CHANGELOG.md").read_text("utf-8")
