"""What `rigproof new` makes, as its author has it: built, installed in a fresh virtual environment, tested, linted."""

from __future__ import annotations

import importlib
import inspect
import re
import shutil
import subprocess
import sys
import sysconfig
import tomllib
import venv
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

import rigproof.commands.new  # now: imported first inside another file's pytester, it would be there twice
from rigproof.__main__ import cli
from rigproof.commands.plan_text import CANNOT, OFTEN
from rigproof.documents import Rig
from rigproof.documents.interlocks import Limit
from rigproof.errors import ExitCode, RigproofError
from rigproof.interlocks import yield_strain
from rigproof.plugins import Registry
from rigproof.quantities import did_you_mean
from rigproof.run.foresight import strain_at
from rigproof.run.live import LiveRig
from rigproof.run.odds import unlikely_of
from rigproof.run.plan import Plan, make_plan

RUFF = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text("utf-8"))["tool"]["ruff"]["lint"]
SPOKEN = {"driver": "load indicator", "step": "warm up"}


def new(*arguments: str) -> list[str]:
    """Call `rigproof new`; the lines it prints."""
    result = CliRunner().invoke(cli, ["new", *arguments], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output.splitlines()


def run(*command: str | Path, cwd: Path) -> str:
    done = subprocess.run([*map(str, command)], cwd=cwd, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def packages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("packages")
    for what, name in SPOKEN.items():
        new(what, name, "--in", str(folder))
    return folder


@pytest.fixture(scope="module")
def python(packages: Path) -> Path:
    """A fresh virtual environment that sees this one's packages, with the new ones installed."""
    venv.create(packages / "venv", with_pip=False)
    site = next((packages / "venv").glob("lib/python*/site-packages"))
    (site / "outer.pth").write_text(f"import site; site.addsitedir({sysconfig.get_paths()['purelib']!r})\n", "utf-8")
    python = packages / "venv" / "bin" / "python"
    for name in SPOKEN.values():  # without a network, as its page says
        folder = packages / f"rigproof-{name.replace(' ', '-')}"
        (words,) = re.findall("`pip (install --no.*?)`", (folder / "README.md").read_text("utf-8"))
        run(python, "-m", "pip", *words.split(), "-q", "--no-index", cwd=folder)
    return python


@pytest.mark.parametrize("what", ["driver", "step", "rig"])
def test_without_the_plugin_that_has_the_start(what: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rigproof.commands.new, "load_registry", Registry)
    with pytest.raises(RigproofError, match=f"new {what}: no installed plugin has a start for a {what}"):
        new(what, "load indicator", "--in", str(tmp_path))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
@pytest.mark.parametrize("what", SPOKEN)
def test_a_new_package_installs_passes_its_tests_and_is_clean(packages: Path, python: Path, what: str) -> None:
    folder = packages / f"rigproof-{SPOKEN[what].replace(' ', '-')}"
    assert SPOKEN[what] in run(python, "-m", "rigproof", "plugins", cwd=packages)
    said = run(python, "-m", "pytest", "-q", "-p", "no:cacheprovider", cwd=folder)
    assert "passed" in said
    assert "failed" not in said
    run(sys.executable, "-m", "ruff", "check", "--no-cache", ".", cwd=folder)
    run(sys.executable, "-m", "ruff", "format", "--no-cache", "--check", ".", cwd=folder)
    run(python, "-m", "mypy", cwd=folder)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("new_text", "test"),
    [
        (
            ("estimate()", "estimate(); moved = replace(moved, value=moved.value + 1e-9 * random(), budget=None)"),
            "test_it_is_judged",
        ),
        (
            ("return base.channel_problems(rig, self.channels)", "return []"),
            "test_a_channel_that_the_rig_has_not_is_a_fault",
        ),
    ],
    ids=["chance in judge", "no problems"],
)
def test_a_new_steps_own_tests_find(
    packages: Path, python: Path, tmp_path: Path, new_text: tuple[str, str], test: str
) -> None:
    """A module in the working directory comes before the installed one."""
    folder = shutil.copytree(packages / "rigproof-warm-up", tmp_path / "mine")
    module = folder / "rigproof_warm_up.py"
    text = module.read_text("utf-8")
    assert text.count(new_text[0]) == 1
    imports = "import annotations\nfrom dataclasses import replace\nfrom random import random\n"
    module.write_text(text.replace(*new_text).replace("import annotations\n", imports), "utf-8")
    done = subprocess.run(
        [python, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-k", f"{test} and not 0.001"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "1 failed" in done.stdout, done.stdout
    assert "passed" not in done.stdout


def test_the_check_of_names_on_the_page_of_a_new_step(tmp_path: Path, spool: Plan) -> None:
    new("step", "warm up", "--in", str(tmp_path))
    page = (tmp_path / "rigproof-warm-up" / "README.md").read_text("utf-8")
    (body,) = re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    space: dict[str, Any] = {"did_you_mean": did_you_mean, "Sequence": Sequence, "Rig": Rig}
    exec(f"class Mine:\n    travel = 'lenght'\n{body}", space)
    gap = spool.rig.channels["pressure"].model_copy(update={"measures": "length"})
    rig = replace(spool.rig, channels={**spool.rig.channels, "length": gap})
    mine = space["Mine"]()
    assert mine.problems(rig) == [("travel", "'lenght' is no channel of length", "did you mean 'length'?")]
    mine.travel = "length"
    assert mine.problems(rig) == []


@pytest.mark.parametrize("name", ["x", "none", "identity", "check", "n" * 40, " ".join(["word"] * 7 + ["words"])])
@pytest.mark.parametrize("what", SPOKEN)
def test_any_name_makes_code_that_is_clean_by_this_projects_rules(tmp_path: Path, what: str, name: str) -> None:
    new(what, name, "--in", str(tmp_path))
    (folder,) = tmp_path.iterdir()
    rules = ["--select", ",".join(RUFF["select"]), "--ignore", ",".join(RUFF["ignore"])]
    rules += ["--per-file-ignores", ",".join(f"tests/**:{rule}" for rule in RUFF["per-file-ignores"]["tests/**"])]
    run(sys.executable, "-m", "ruff", "check", "--no-cache", *rules, ".", cwd=folder)
    run(sys.executable, "-m", "ruff", "format", "--no-cache", "--check", ".", cwd=folder)
    run(sys.executable, "-W", "error", "-m", "compileall", "-q", ".", cwd=folder)


@pytest.mark.slow
def test_a_name_that_is_taken_is_refused(packages: Path, python: Path) -> None:
    for what, name in SPOKEN.items():
        done = subprocess.run(
            [python, "-m", "rigproof", "new", what, name, "--in", packages / "again"],
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 4
        assert f"NAME='{name}': a {what} of that name is installed" in done.stderr


def test_a_new_rig_passes_check_and_run_at_once(tmp_path: Path) -> None:
    lines = new(
        "rig", "Bay 3", "--in", str(tmp_path), "--diameter", "168.3 mm", "--wall", "4 mm", "--pressure", "16 bar"
    )
    folder = tmp_path / "bay-3"
    assert lines == [
        "made; type next:",
        f"  rigproof check {folder}",
        f"  rigproof plan {folder}",
        f"  rigproof run {folder} --simulated",
    ]
    assert {path.name for path in folder.iterdir()} == {"rig.yaml", "acceptance.yaml", "twin.yaml", "README.md"}
    assert "to: 22.88 bar" in (folder / "acceptance.yaml").read_text("utf-8")
    checked = run(sys.executable, "-m", "rigproof", "check", folder, cwd=tmp_path)
    assert "bay 3: 9 channels, 6 instruments" in checked
    assert "where 'fill in' stands: site of the rig; serial number of the part, bridge, ohmmeter" in checked
    assert "drawing of the part; certificate of bridge" in checked
    forgot = subprocess.run(
        [sys.executable, "-m", "rigproof", "run", folder], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert forgot.returncode == ExitCode.WRONG_INPUT
    assert ": site: 'fill in' still stands for site of the rig; serial number of the part, bridge, " in forgot.stderr
    assert "or leave such keys out; on the simulated rig: --simulated" in forgot.stderr
    assert {path.name for path in tmp_path.iterdir()} == {"bay-3"}  # nothing was begun
    said = run(sys.executable, "-m", "rigproof", "run", folder, "--simulated", "--out", tmp_path / "o", cwd=tmp_path)
    assert "verdict: accept (simulated)" in said


def test_a_new_rig_computes_the_volume_from_bore_and_length(tmp_path: Path, registry: Registry) -> None:
    """Bore 154.1 mm: 18.651 cm² × 10 a metre."""
    pipe = ("--diameter", "168.3 mm", "--wall", "7.1 mm", "--pressure", "16 bar")
    new("rig", "ss", *pipe, "--length", "1.4 m", "--in", str(tmp_path))
    assert "  volume: 26.11 l ± 5 % " in (tmp_path / "ss" / "rig.yaml").read_text("utf-8")
    plan = make_plan(tmp_path / "ss", registry)
    assert not any("no `volume:`" in text for text in plan.of_rig())
    assert any(text.startswith("Water and shell store 0.04 kJ at 23.11 bar") for text in plan.cautions)


def test_a_new_rig_without_a_length_says_what_is_not_told(tmp_path: Path, registry: Registry) -> None:
    new("rig", "ss", "--in", str(tmp_path))
    assert "  # volume: … l ± 2 %" in (tmp_path / "ss" / "rig.yaml").read_text("utf-8")
    plan = make_plan(tmp_path / "ss", registry)
    told = "The energy stored under pressure is not told: no `volume:` is written under `part:`."
    assert plan.of_rig().count(told) == 1
    assert plan.cautions.count(told) == 1


@pytest.mark.parametrize("pressure", ["6 bar", "25 bar", "70 bar"])
def test_a_new_rig_watches_strain_between_what_is_foreseen_and_yield(
    tmp_path: Path, registry: Registry, pressure: str
) -> None:
    """At 70 bar the proof goes to 93 % of first yield, so that little is left to either side."""
    new("rig", "ss", "--pressure", pressure, "--in", str(tmp_path))
    plan = make_plan(tmp_path / "ss", registry)
    limit = plan.rig.interlocks["hoop strain"]
    assert isinstance(limit, Limit)
    assert limit.above is not None
    load, rule = plan.highest_load, plan.procedure.decision
    assert load is not None
    strain, expanded = strain_at(plan.rig, "hoop", "pressure", load, rule)
    assert strain + expanded < limit.above.value < yield_strain(plan.rig, "hoop")
    assert limit.above.value <= 1.26 * (strain + expanded)


@pytest.mark.parametrize(
    "options",
    [
        (),
        ("--pressure", "16 bar"),
        ("--diameter", "168.3 mm", "--wall", "7.1 mm", "--pressure", "16 bar"),
        ("--diameter", "323.9 mm", "--wall", "5.6 mm", "--pressure", "10 bar"),
    ],
)
def test_a_new_rig_of_a_usual_pipe_is_not_marginal(
    tmp_path: Path, registry: Registry, options: tuple[str, ...]
) -> None:
    assert len(new("rig", "ss", *options, "--in", str(tmp_path))) == 4
    assert list(unlikely_of(make_plan(tmp_path / "ss", registry).rehearsed)) == []


def test_a_new_rig_that_sound_ones_often_do_not_pass_says_so_at_once(tmp_path: Path) -> None:
    lines = new("rig", "ss", "--diameter", "114.3 mm", "--wall", "3.6 mm", "--pressure", "6 bar", "--in", str(tmp_path))
    assert lines[4] == f"{OFTEN}:"
    assert lines[5].startswith("  - 6 cycles: at most ")
    assert lines[5].endswith("a better instrument, a higher load or a wider limit helps")


def test_a_new_rig_that_no_sound_one_passes_says_so_at_once(tmp_path: Path) -> None:
    lines = new("rig", "ss", "--diameter", "114.3 mm", "--wall", "8 mm", "--pressure", "6 bar", "--in", str(tmp_path))
    assert lines[4] == f"{CANNOT}:"
    assert lines[5].startswith("  - 6 cycles: zero return of axial (after cycle ")
    assert "the guard bands leave nothing of the tolerance" in lines[5]


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (("--wall", "50 mm", "--diameter", "88.9 mm"), "part.wall: '50 mm ± 1 %' is not below half the outside"),
        (("--pressure", "500 bar"), "the step goes to 500 bar; the part starts to yield at"),
    ],
)
def test_no_rig_that_fails_its_first_check(tmp_path: Path, options: tuple[str, ...], why: str) -> None:
    with pytest.raises(RigproofError, match="choose another --diameter, --wall or --pressure") as refused:
        new("rig", "ss", *options, "--in", str(tmp_path))
    assert why in str(refused.value)
    assert list(tmp_path.iterdir()) == []


def test_the_next_lines_are_those_to_type(tmp_path: Path) -> None:
    lines = new("driver", "load-indicator", "--in", str(tmp_path))
    folder = tmp_path / "rigproof-load-indicator"
    assert lines[:4] == ["made; type next:", f"  cd {folder}", '  pip install -e ".[test]"', "  pytest"]
    assert {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()} == {
        "pyproject.toml",
        "README.md",
        "rigproof_load_indicator.py",
        "tests/test_rigproof_load_indicator.py",
    }


def test_whatever_the_page_of_a_new_step_names_is_there(tmp_path: Path) -> None:
    """And takes so many arguments; `…` is left open."""
    new("step", "warm up", "--in", str(tmp_path))
    page = (tmp_path / "rigproof-warm-up" / "README.md").read_text("utf-8")
    calls = re.findall(r"`(live|terms|strains|checks)\.(\w+)\((.*?)\)`", page)
    assert len(calls) == 13
    for where, name, arguments in calls:
        owner = LiveRig if where == "live" else importlib.import_module(f"rigproof.steps.{where}")
        parameters = [one for one in inspect.signature(getattr(owner, name)).parameters if one != "self"]
        assert arguments == "…" or len(arguments.split(",")) <= len(parameters), name


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["driver", "9 volt"], "NAME='9 volt': a name is up to 40 letters (a to z)"),
        (["driver", "two  spaces"], "words apart by one space"),
        (["step", "../up"], 'write one such as "warm up"'),
        (["rig", "x" * 41], 'write one such as "bay 3"'),
        (["driver", "ohmmeter"], "a driver of that name is installed"),
        (["step", "shunt"], "a step of that name is installed"),
        (["driver", "twin"], "a plugin of that name is installed"),
        (["step", "pytest"], "a module rigproof_pytest is installed"),
        (["rig", "here"], "here is there already"),
        (["rig", "pipe", "--wall", "0 mm"], "--wall '0 mm': a pipe has one above 0"),
        (["rig", "pipe", "--pressure", "25"], "--pressure: '25' has no unit"),
    ],
)
def test_what_cannot_be_made_is_refused_in_words(tmp_path: Path, arguments: list[str], said: str) -> None:
    (tmp_path / "here").mkdir()
    with pytest.raises(RigproofError) as caught:
        CliRunner().invoke(
            cli, ["new", *arguments, "--in", str(tmp_path)], catch_exceptions=False, standalone_mode=False
        )
    assert said in str(caught.value)
    assert [path.name for path in tmp_path.iterdir()] == ["here"]
