"""The rules of the house (DEVELOPERS.md), held by reading the sources: who may import whom, sizes, what lies where."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import distribution
from pathlib import Path
from statistics import median

import pytest

ROOT = Path(__file__).parent.parent
PLUGINS = {folder.name for folder in (ROOT / "plugins").iterdir() if (folder / "__init__.py").exists()}
BY_NAME_ALONE = {"pyvisa_rigproof"}  # PyVISA finds a backend by its name, pyvisa_…, so it needs no entry point
MAY_USE_EACH_OTHER = {
    ("pyvisa_rigproof", "rigproof_twin"),  # the backend exists to put the twin under PyVISA
    ("rigproof_pytest", "rigproof_twin"),  # the contract kit offers the twin's instruments as healthy ones
}
BY_PYTEST = {"rigproof_pytest"}  # comes in by pytest's own entry point
CATCHES_SLEEP = ROOT / "plugins" / "rigproof_pytest" / "watch.py"  # it takes the sleep away from drivers
DRIVERS = PLUGINS & {"rigproof_scpi", "rigproof_modbus", "rigproof_manual", "rigproof_replay"}
MODELS = PLUGINS & {"rigproof_strain", "rigproof_parts"}
TOP_LEVEL = {
    *("core", "plugins", "rigs", "tests", ".ci"),
    *("README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml", ".gitignore"),
}


def sources(*folders: str) -> list[Path]:
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"), str(path))


def imports(path: Path) -> Iterator[tuple[str, str]]:
    """Every absolute import of a file, also inside functions and for types alone: (module, name or "")."""
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.Import):
            yield from ((alias.name, "") for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield from ((node.module, alias.name) for alias in node.names)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "import_module":
            yield from ((str(arg.value), "") for arg in node.args if isinstance(arg, ast.Constant))


def importers(folders: list[str], forbidden: set[str]) -> list[str]:
    """Imports, as `file: module`, of any of the forbidden modules or what lies below them."""
    return [
        f"{path.relative_to(ROOT)}: {module}"
        for path in sources(*folders)
        for module, name in imports(path)
        if any(f"{module}.{name}.".startswith(f"{wrong}.") for wrong in forbidden)
    ]


def entry_points_written() -> dict[str, str]:
    written: dict[str, str] = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["entry-points"][
        "rigproof"
    ]
    return written


def test_the_core_imports_no_plugin() -> None:
    assert PLUGINS
    assert importers(["core"], PLUGINS) == []
    named = re.compile(rf"^\s*(?:from|import) ({'|'.join(PLUGINS)})\b", re.MULTILINE)
    written = [path for path in (ROOT / "core").rglob("*.txt") if named.search(path.read_text("utf-8"))]
    assert written == []  # nor does a start that it hands to authors


@pytest.mark.parametrize("plugin", sorted(PLUGINS))
def test_a_plugin_imports_no_other_plugin(plugin: str) -> None:
    allowed = {other for one, other in MAY_USE_EACH_OTHER if one == plugin} | {plugin}
    assert importers([f"plugins/{plugin}"], PLUGINS - allowed) == []


@pytest.mark.parametrize("plugin", sorted(PLUGINS))
def test_a_plugin_uses_only_public_names_of_the_core(plugin: str) -> None:
    private = [
        f"{path.relative_to(ROOT)}: {module} {name}"
        for path in sources(f"plugins/{plugin}")
        for module, name in imports(path)
        if module.split(".")[0] == "rigproof" and any(part.startswith("_") for part in (*module.split("."), name))
    ]
    assert private == []


def test_the_twin_has_its_own_physics_and_knows_no_visa() -> None:
    assert importers(["plugins/rigproof_twin"], {"pyvisa", "rigproof_strain", "rigproof_parts"}) == []


def test_pymodbus_is_known_in_one_place_and_never_in_the_twin() -> None:
    def known_in(module: str) -> set[str]:
        return {line.partition(":")[0] for line in importers(["core", "plugins"], {module})}

    assert known_in("pymodbus") == {"plugins/rigproof_modbus/client.py"}
    assert known_in("serial") <= {"plugins/rigproof_modbus/client.py", "plugins/rigproof_scpi/resources.py"}


def test_rich_is_known_to_the_table_of_a_run_alone() -> None:
    """It is slow to import, and only a terminal needs it; the choice is made in `listening.py`, late."""
    known = {line.partition(":")[0] for line in importers(["core", "plugins"], {"rich"})}
    assert known == {"core/rigproof/commands/frame.py", "core/rigproof/commands/live_table.py"}
    code = "import rigproof.commands.run, sys; print('rich' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"


@pytest.mark.parametrize("plugin", sorted(DRIVERS))
def test_a_driver_imports_no_step_and_no_judging(plugin: str) -> None:
    assert importers([f"plugins/{plugin}"], {"rigproof.steps", "rigproof.verdict", "rigproof.run"}) == []


def test_the_manual_drivers_ask_through_their_connection_alone() -> None:
    """Who answers, a terminal or a file, is the command's choice."""
    reach = {"io", "os", "sys", "click", "pathlib", "select", "termios", "rigproof.commands"}
    assert importers(["plugins/rigproof_manual"], reach | {"rigproof_twin"}) == []


@pytest.mark.parametrize("plugin", sorted(MODELS))
def test_a_model_does_no_input_or_output(plugin: str) -> None:
    reach = {"io", "os", "pathlib", "pyvisa", "shutil", "socket", "subprocess", "urllib", "http", "rigproof.clock"}
    assert importers([f"plugins/{plugin}"], reach) == []
    opened = [
        f"{path.name}:{node.lineno}"
        for path in sources(f"plugins/{plugin}")
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in {"open", "print", "input"}
    ]
    assert opened == []


def test_nothing_sleeps_outside_the_clock() -> None:
    """Waiting goes through the injected clock: a sleep would make a simulated hour a real one."""
    sleepers = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in sources("core", "plugins")
        if path != CATCHES_SLEEP
        for node in ast.walk(parsed(path))
        if (isinstance(node, ast.Attribute) and node.attr == "sleep")
        or (isinstance(node, ast.ImportFrom) and any(alias.name == "sleep" for alias in node.names))
    ]
    assert sleepers == []


def test_every_plugin_folder_comes_in_by_an_entry_point() -> None:
    named = {module.split(".")[0] for module in entry_points_written().values()}
    assert named - {"rigproof"} == PLUGINS - BY_NAME_ALONE - BY_PYTEST
    points = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["entry-points"]["pytest11"]
    assert {module.split(".")[0] for module in points.values()} == BY_PYTEST


@pytest.mark.parametrize("module", entry_points_written().values())
def test_every_entry_point_names_a_module_that_says_the_door(module: str) -> None:
    relative = Path(*module.split("."))
    found = [
        path
        for folder in ("core", "plugins")
        for path in (ROOT / folder / relative.with_suffix(".py"), ROOT / folder / relative / "__init__.py")
        if path.exists()
    ]
    assert len(found) == 1
    assert "RIGPROOF_DOOR = 1" in found[0].read_text("utf-8").splitlines()


def test_the_installed_entry_points_are_those_in_pyproject() -> None:
    installed = {
        point.name: point.value for point in distribution("rigproof").entry_points if point.group == "rigproof"
    }
    assert installed == entry_points_written(), (
        'entry points are read at install time: run pip install -e ".[test]" again'
    )


@pytest.mark.parametrize("package", sorted({"core/rigproof", *(f"plugins/{name}" for name in PLUGINS)}))
def test_every_package_is_typed_and_has_its_folders_as_packages(package: str) -> None:
    assert (ROOT / package / "py.typed").exists()
    assert {path.parent for path in sources(package)} == {
        path.parent for path in sources(package) if path.name == "__init__.py"
    }


def test_no_folder_under_plugins_is_left_empty() -> None:
    assert {folder.name for folder in (ROOT / "plugins").iterdir() if folder.name != "__pycache__"} == PLUGINS


def test_no_file_is_over_500_lines_and_half_are_within_120() -> None:
    lengths = {path.relative_to(ROOT): len(path.read_text("utf-8").splitlines()) for path in sources("core", "plugins")}
    lengths |= {path.relative_to(ROOT): len(path.read_text("utf-8").splitlines()) for path in sources("tests")}
    assert {str(path): lines for path, lines in lengths.items() if lines > 500} == {}
    assert median(lines for path, lines in lengths.items() if path.parts[0] != "tests") <= 120


def test_functions_are_short() -> None:
    lengths = sorted(
        (node.end_lineno or node.lineno) - node.lineno + 1
        for path in sources("core", "plugins")
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.FunctionDef)
    )
    assert median(lengths) <= 9
    assert lengths[int(len(lengths) * 0.9)] <= 30


def test_rigs_are_data_without_code() -> None:
    assert {path.suffix for path in (ROOT / "rigs").rglob("*") if path.is_file()} <= {".yaml", ".md", ".csv"}


def test_the_top_level_holds_what_the_readme_lists_and_nothing_else() -> None:
    if not (ROOT / ".git").exists():
        pytest.skip("no git here to say which files are the project's")
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert {name.split("/")[0] for name in listed.stdout.split("\0") if name} <= TOP_LEVEL
