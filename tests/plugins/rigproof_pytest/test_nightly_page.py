"""The page on nightly regression: its nightly.yaml is taken, its script and its crontab do what it says."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from rigproof.plugins import Registry

pytest_plugins = ["pytester"]

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "plugins" / "rigproof_pytest" / "NIGHTLY.md").read_text("utf-8")
QUICK = ("-p", "no:hypothesispytest")  # which every pytest in this one would import anew
POSSIBLE = re.compile(r" +also possible:.*\n +- \{step: balance.*\n")


def snippet(mark: str) -> str:
    """The one block of the page that stands below this mark."""
    (found,) = re.findall(rf"<!-- {re.escape(mark)} -->\n```\w+\n(.*?)```", PAGE, re.DOTALL)
    return str(found)


def shorten(procedure: Path) -> None:
    """The same steps in a quarter of the time: nothing that the page finds is found under a long load."""
    text = procedure.read_text("utf-8")
    for long, short in (("times: 3, levels: 5", "times: 2, levels: 2"), ("hold: 10 min", "hold: 1 min")):
        assert text.count(long) == 1
        text = text.replace(long, short)
    procedure.write_text(text, "utf-8")


@pytest.fixture
def project(registry: Registry, pytester: pytest.Pytester) -> pytest.Pytester:
    """The page's project: a rig, the script, and a virtual environment, which is the one of this test."""
    bay = pytester.path / "rigs" / "bay"
    shutil.copytree(ROOT / "rigs" / "branch", bay)
    shorten(bay / "acceptance.yaml")
    (bay / "nightly.yaml").write_text(snippet("nightly.yaml"), "utf-8")
    script = pytester.path / "nightly.sh"
    script.write_text(snippet("nightly.sh"), "utf-8")
    script.chmod(0o755)
    (pytester.path / ".venv").mkdir()
    (pytester.path / ".venv" / "bin").symlink_to(Path(sys.executable).parent)
    return pytester


def nightly(project: pytest.Pytester) -> Path:
    return project.path / "rigs" / "bay" / "nightly.yaml"


def without_what_is_possible(project: pytest.Pytester) -> None:
    text, count = POSSIBLE.subn("", nightly(project).read_text("utf-8"))
    assert count == 1
    nightly(project).write_text(text, "utf-8")


def test_the_commands_of_the_page_find_what_they_name(project: pytest.Pytester) -> None:
    commands = [shlex.split(line, comments=True) for line in snippet("commands").splitlines()]
    found = {}
    for program, *arguments in commands:
        assert program == "pytest"
        quick = [each for each in arguments if each not in {"-n", "auto"}]
        result = project.runpytest_inprocess("--collect-only", "-q", "--strict-markers", *QUICK, *quick)
        found[shlex.join(arguments)] = [line.partition("::")[2] for line in result.outlines if "::" in line]
    everything = found["rigs"]
    assert len(everything) == 9
    assert set(map(tuple, found.values())) == {
        tuple(everything),
        tuple(name for name in everything if "leakage" in name or "turned-sign" in name),
        tuple(name for name in everything if "seed3" in name),
        ("leakage[10MΩ-seed3]",),
        (),
    }


def test_the_failure_on_the_page_is_what_is_said(project: pytest.Pytester) -> None:
    without_what_is_possible(project)
    result = project.runpytest_inprocess("rigs", "-q", *QUICK, "-k", "unequal-leads and seed3")
    assert snippet("failure: unequal-leads[seed3]") in result.stdout.str()


def cron_job(project: pytest.Pytester, number: int) -> subprocess.CompletedProcess[str]:
    """What the page's crontab has cron do, as cron does it: /bin/sh, nearly no environment, the home folder."""
    mailto, *lines = snippet("crontab").splitlines()
    assert mailto.startswith("MAILTO=")
    when, command = re.fullmatch(r"((?:\S+ ){4}\S+) +(.*)", lines[number]).groups()  # type: ignore[union-attr]
    in_range(when)
    assert "%" not in command  # which ends a command of cron
    return subprocess.run(
        ["/bin/sh", "-c", command.replace("/home/bench/proof", str(project.path))],
        cwd="/",
        env={"HOME": "/", "PATH": "/usr/bin:/bin", "SHELL": "/bin/sh", "PYTEST_XDIST_AUTO_NUM_WORKERS": "1"},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )


def in_range(when: str) -> None:
    """Minute, hour, day of the month, month, day of the week: the ranges of POSIX crontab (IEEE Std 1003.1)."""
    for field, (least, most) in zip(when.split(" "), ((0, 59), (0, 23), (1, 31), (1, 12), (0, 6)), strict=True):
        assert field == "*" or all(least <= int(number) <= most for number in field.split("-")), when


def night(project: pytest.Pytester) -> ET.Element:
    """The test suite in the JUnit file of the only night."""
    (junit,) = (project.path / "nights").glob("*/junit.xml")
    return ET.parse(junit).getroot()[0]


def test_a_good_night_is_silent_and_leaves_its_junit(project: pytest.Pytester) -> None:
    assert cron_job(project, 1).stdout == "no nightly regression since yesterday\n"
    done = cron_job(project, 0)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    suite = night(project)
    assert (suite.attrib["tests"], suite.attrib["failures"], suite.attrib["errors"]) == ("9", "0", "0")
    assert (cron_job(project, 1).stdout, cron_job(project, 1).stderr) == ("", "")


def test_a_bad_night_is_loud_and_its_junit_has_the_failure(project: pytest.Pytester) -> None:
    without_what_is_possible(project)
    done = cron_job(project, 0)
    assert done.returncode == 1
    assert done.stdout.startswith(f"nightly regression: exit code 1, see {project.path}/nights/")
    assert "! -                                      balance: offset of hoop: reject" in done.stdout
    suite = night(project)
    failed = [case.attrib["name"] for case in suite.findall("testcase/failure/..")]
    assert "unequal-leads[seed3]" in failed
    assert int(suite.attrib["failures"]) == len(failed)


def test_a_night_with_a_wrong_document_is_loud_and_takes_the_other_rigs(project: pytest.Pytester) -> None:
    shutil.copytree(nightly(project).parent, project.path / "rigs" / "other")
    nightly(project).write_text(snippet("nightly.yaml").replace("leakage", "leakag"), "utf-8")
    done = cron_job(project, 0)
    assert done.returncode == 1
    assert "no flaw is called 'leakag'" in done.stdout
    suite = night(project)
    assert (suite.attrib["tests"], suite.attrib["failures"], suite.attrib["errors"]) == ("10", "0", "1")


def test_a_night_without_rigs_is_loud(project: pytest.Pytester) -> None:
    (project.path / "rigs").rename(project.path / "elsewhere")
    done = cron_job(project, 0)
    assert done.returncode in {pytest.ExitCode.USAGE_ERROR, pytest.ExitCode.NO_TESTS_COLLECTED}
    assert done.stdout.startswith("nightly regression: exit code")


def test_a_night_that_does_not_end_is_loud_twice(project: pytest.Pytester) -> None:
    script = project.path / "nightly.sh"
    text = script.read_text("utf-8")
    assert "timeout 6h " in text
    script.write_text(text.replace("timeout 6h ", "timeout 0.1s "), "utf-8")
    done = cron_job(project, 0)
    assert (done.returncode, done.stdout[:35]) == (124, "nightly regression: exit code 124, ")
    assert cron_job(project, 1).stdout == "no nightly regression since yesterday\n"
