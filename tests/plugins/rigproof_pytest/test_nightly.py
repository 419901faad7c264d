"""A nightly.yaml under pytest, in a project with nothing but the installed plugin: items, -k, -n, --junitxml, words."""

from __future__ import annotations

import re
import shlex
import shutil
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.errors import ExitCode
from rigproof.plugins import Registry
from rigproof_pytest.nightly import NightlyItem

pytest_plugins = ["pytester"]

RIGS = Path(__file__).parents[3] / "rigs"
QUICK = ("-p", "no:hypothesispytest")  # which every pytest in this one would import anew
TINY = """\
rigproof: nightly/1
seeds: [1, 2]
trials:
  - flaw: leakage
    sizes: [100 MΩ, 10 MΩ]
    verdict: reject
    checks: [{step: insulation, check: insulation, subject: hoop}]
  - flaw: turned-sign
    seeds: [2]
    verdict: void
    why: interlock 'hoop strain'
"""
WRONG = """\
  - flaw: damaged-grid
    sizes: [2 %]
    seeds: [2]
    verdict: reject
    checks:
      - {step: balance, check: offset, subject: hoop}
      - {step: balance, check: noise, subject: hoop}
"""
AS_FOUND = """\
reject as expected, but not by the checks or for the reason expected

  expected                          found
  reject                            reject
  balance: offset of hoop: reject   balance: offset of hoop: reject
! balance: noise of hoop: reject    -
! -                                 resistance: change from packet of hoop: reject

again: rigproof run 'rigs/bay 3' --simulated --seed 2 --flaw 'damaged-grid=2 %'
   or: pytest 'rigs/bay 3/nightly.yaml::damaged-grid[2%-seed2]'
"""
NAMES = [
    *(f"leakage[{size}-seed{seed}]" for size in ("100MΩ", "10MΩ") for seed in (1, 2)),
    "turned-sign[seed2]",
]


@pytest.fixture
def project(registry: Registry, pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> pytest.Pytester:
    """A project with one rig in a folder with a space in its name; flaws that are found before the part is loaded.

    With the registry the plugins are imported once, and not by every pytest in this one. Where the outer pytest runs
    on a build machine, the inner one would say every failure a second time, whole, in its summary.
    """
    for variable in ("CI", "BUILD_NUMBER"):
        monkeypatch.delenv(variable, raising=False)
    shutil.copytree(RIGS / "branch", pytester.path / "rigs" / "bay 3")
    nightly(pytester).write_text(TINY, "utf-8")
    return pytester


def take(project: pytest.Pytester, *arguments: str) -> pytest.RunResult:
    return project.runpytest_inprocess("-q", *QUICK, *arguments)


def nightly(project: pytest.Pytester) -> Path:
    return project.path / "rigs" / "bay 3" / "nightly.yaml"


def names(result: pytest.RunResult) -> list[str]:
    return [line.partition("::")[2] for line in result.outlines if "::" in line]


def test_every_flaw_size_and_seed_is_an_item(project: pytest.Pytester) -> None:
    items, _ = project.inline_genitems()
    assert [item.name for item in items] == NAMES
    assert {type(item) for item in items} == {NightlyItem}


def test_items_are_chosen_by_word_by_marker_and_by_name(project: pytest.Pytester) -> None:
    def chosen(*arguments: str) -> list[str]:
        return names(take(project, "--collect-only", "--strict-markers", *arguments))

    assert chosen("-k", "leakage and seed2") == ["leakage[100MΩ-seed2]", "leakage[10MΩ-seed2]"]
    assert chosen("-m", "not nightly") == []
    assert chosen("rigs/bay 3/nightly.yaml::turned-sign[seed2]") == ["turned-sign[seed2]"]


def test_as_told_in_parallel_and_a_wrong_expectation_beside_it(project: pytest.Pytester) -> None:
    nightly(project).write_text(TINY + WRONG, "utf-8")
    result = project.runpytest_subprocess("rigs", *QUICK, "-n", "2", "--junitxml", "out.xml", "-W", "error")
    assert result.ret == pytest.ExitCode.TESTS_FAILED
    result.assert_outcomes(passed=5, failed=1)
    said = result.stdout.str()
    assert AS_FOUND in said
    assert "FAILED rigs/bay 3/nightly.yaml::damaged-grid[2%-seed2] - Failed: reject as ex" in said

    (suite,) = ET.parse(project.path / "out.xml").getroot()
    assert (suite.attrib["tests"], suite.attrib["failures"], suite.attrib["errors"]) == ("6", "1", "0")
    (failed,) = suite.findall("testcase/failure/..")
    assert failed.attrib["name"] == "damaged-grid[2%-seed2]"
    assert "\n! balance: noise of hoop: reject " in str(failed[0].text)
    assert {case.attrib["name"] for case in suite} == {*NAMES, "damaged-grid[2%-seed2]"}


def test_the_commands_of_a_failure_take_it_again(
    project: pytest.Pytester, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    nightly(project).write_text(TINY + WRONG, "utf-8")
    first = take(project, "-k", "damaged", "rigs").stdout.str()
    (as_user,) = re.findall("^again: rigproof (.*)$", first, re.MULTILINE)
    (as_test,) = re.findall("^   or: pytest (.*)$", first, re.MULTILINE)
    monkeypatch.chdir(project.path)
    assert run(shlex.split(as_user)) == ExitCode.REJECT
    assert "change from packet of hoop" in capsys.readouterr().out
    take(project, *shlex.split(as_test)).assert_outcomes(failed=1)


def test_a_verdict_that_was_not_expected_is_told_first(project: pytest.Pytester) -> None:
    trials = "  - {flaw: turned-sign, seeds: [1], verdict: accept}\n  - {flaw: leakage, seeds: [1], verdict: accept}\n"
    nightly(project).write_text(TINY[: TINY.index("  - ")] + trials, "utf-8")
    result = take(project)
    result.stdout.re_match_lines(
        [
            "expected accept, found void",
            r"! accept +void",
            r"! - +because: tripped: interlock 'hoop strain': .*",
            "expected accept, found reject",
            r"! accept +reject",
            r"! - +insulation: insulation of hoop \(.*\): reject",
        ]
    )


def test_faults_of_the_document_stop_the_collection(project: pytest.Pytester) -> None:
    nightly(project).write_text(TINY.replace("leakage", "leakag").replace("void", "viod"), "utf-8")
    result = take(project)
    assert result.ret == pytest.ExitCode.INTERRUPTED
    said = result.stdout.str()
    assert re.search(
        r"nightly\.yaml:4:11: trials\[1\]\.flaw: no flaw is called 'leakag'\n.*\n +\^{6}\n +did you mean", said
    )
    assert re.search(
        r"nightly\.yaml:10:14: trials\[2\]\.verdict: 'viod' is none of accept, reject, undecided, void", said
    )
    assert "Traceback" not in said


def test_faults_of_the_rig_and_of_its_twin_are_told_in_the_same_way(project: pytest.Pytester) -> None:
    rig = nightly(project).parent / "rig.yaml"
    text = rig.read_text("utf-8")
    rig.write_text(text.replace("ends: closed", "ends: shut"), "utf-8")
    take(project).stdout.fnmatch_lines(["*rig.yaml:*: part.ends: 'shut' is none of*"])
    rig.write_text(text, "utf-8")
    (rig.parent / "twin.yaml").unlink()
    take(project).stdout.fnmatch_lines(["*twin.yaml*"])


def test_a_nightly_yaml_of_somebody_else_is_left_alone(project: pytest.Pytester) -> None:
    (nightly(project).parent / "rig.yaml").unlink()
    nightly(project).write_text("jobs: []\n", "utf-8")
    assert take(project).ret == pytest.ExitCode.NO_TESTS_COLLECTED


def test_a_rig_does_not_fall_out_of_the_night_in_silence(project: pytest.Pytester) -> None:
    """Its rig.yaml is gone; or the file has a name that nobody looks for."""
    mine = nightly(project)
    (mine.parent / "rig.yaml").rename(mine.parent / "n")
    result = take(project)
    assert result.ret == pytest.ExitCode.INTERRUPTED
    result.stdout.fnmatch_lines(["*rig.yaml*"])
    (mine.parent / "n").rename(mine.parent / "rig.yaml")
    mine.rename(mine.with_name("Nightly.yml"))
    result = take(project)
    assert result.ret == pytest.ExitCode.INTERRUPTED
    result.stdout.fnmatch_lines(["*a nightly regression, called Nightly.yml; rename it to nightly.yaml"])


def test_plain_pytest_here_does_not_take_the_bundled_rigs(pytestconfig: pytest.Config) -> None:
    """The README's command must stay quick: hundreds of acceptances are for the night."""
    assert pytestconfig.getini("testpaths") == ["tests"]
