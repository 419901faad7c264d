"""What a CI server sees: never a pass for what was not accepted."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element, parse

import pytest
from xmlschema import XMLSchema10

from rigproof.verdict.record import SafeEnd, StepSummary, Verdict
from rigproof_report.junit import JUnit

if TYPE_CHECKING:
    from .conftest import MakeCheck, MakeVerdict


def written(verdict: Verdict, folder: Path) -> Element:
    JUnit().write(verdict, folder)
    return parse(folder / "junit.xml").getroot()


def case(root: Element, classname: str, name: str) -> Element:
    (found,) = [c for c in root.iter("testcase") if c.get("classname") == classname and c.get("name") == name]
    return found


def counts(element: Element) -> dict[str, int]:
    return {name: int(element.get(name, "-1")) for name in ("tests", "failures", "errors", "skipped")}


def test_a_suite_per_step_and_a_case_per_check(verdict: MakeVerdict, tmp_path: Path) -> None:
    root = written(verdict(), tmp_path)
    assert [suite.get("name") for suite in root] == ["1 cycles", "2 insulation", "3 proof", "4 signature", "verdict"]
    assert [c.get("name") for c in root[0].iter("testcase")] == [
        "zero return of hoop",
        "zero return of axial (cycle 3)",
    ]
    assert counts(root[0]) == {"tests": 2, "failures": 1, "errors": 0, "skipped": 0}
    assert counts(root[1]) == {"tests": 1, "failures": 0, "errors": 0, "skipped": 0}
    assert counts(root[3]) == {"tests": 1, "failures": 0, "errors": 0, "skipped": 1}
    assert counts(root) == {"tests": 7, "failures": 3, "errors": 0, "skipped": -1}


def test_an_accepted_check_passes(verdict: MakeVerdict, tmp_path: Path) -> None:
    root = written(verdict(), tmp_path)
    assert len(case(root, "1 cycles", "zero return of hoop")) == 0
    assert len(case(root, "2 insulation", "insulation of hoop")) == 0


def test_a_rejected_check(verdict: MakeVerdict, tmp_path: Path) -> None:
    (failure,) = case(written(verdict(), tmp_path), "1 cycles", "zero return of axial (cycle 3)")
    assert (failure.tag, failure.get("type")) == ("failure", "reject")
    assert failure.get("message") == (
        "measured 3.10 µε, u 0.42 µε; tolerance ± 2.36 µε (procedure: within 1 %); "
        "conformance probability 3.9 %; after two cycles"
    )
    assert failure.text is not None
    assert failure.text.splitlines()[:2] == ["zero return of axial (cycle 3): reject", "measured 3.10 µε, u 0.42 µε"]


def test_an_undecided_check_is_a_failure_that_says_what_to_improve(verdict: MakeVerdict, tmp_path: Path) -> None:
    (failure,) = case(written(verdict(), tmp_path), "3 proof", "hoop strain of hoop")
    assert (failure.tag, failure.get("type")) == ("failure", "undecided")
    message = failure.get("message", "")
    assert message.startswith(
        "measured 410.00 µε, u 0.42 µε; expected 400.0(3.8) µε; difference 10 ± 10 µε (part model)"
    )
    assert "agreement within U, 99 %" in message
    assert "conformance" not in message
    assert "improve first: part wall" in failure.get("message", "")


def test_a_check_without_a_reading(verdict: MakeVerdict, check: MakeCheck, tmp_path: Path) -> None:
    overload = check(measured=None, u=0.0, finding="reject", note="overload")
    (failure,) = case(written(verdict(checks=(overload,)), tmp_path), "1 cycles", "zero return of hoop")
    assert failure.get("message", "").startswith("no reading (overload); tolerance ")


@pytest.mark.parametrize(
    ("lower", "upper", "text"), [(0.0, None, "at least 0 µε"), (None, 1e-6, "at most 1 µε"), (None, None, "without")]
)
def test_one_sided_tolerances(
    verdict: MakeVerdict, check: MakeCheck, tmp_path: Path, lower: float | None, upper: float | None, text: str
) -> None:
    tolerance = check().tolerance.model_copy(update={"lower": lower, "upper": upper})
    one = check(tolerance=tolerance, finding="reject")
    (failure,) = case(written(verdict(checks=(one,)), tmp_path), "1 cycles", "zero return of hoop")
    assert f"tolerance {text}" in failure.get("message", "")


@pytest.mark.parametrize(("simulated", "text"), [(True, "true"), (False, "false")])
def test_every_suite_says_whether_it_is_simulated(
    verdict: MakeVerdict, tmp_path: Path, simulated: bool, text: str
) -> None:
    root = written(verdict(simulated=simulated), tmp_path)
    for suite in root:
        assert [p.get("value") for p in suite.iter("property") if p.get("name") == "simulated"] == [text]


def test_the_last_suite_names_the_records(verdict: MakeVerdict, tmp_path: Path) -> None:
    facts = {p.get("name"): p.get("value") for p in written(verdict(), tmp_path)[-1].iter("property")}
    assert facts["rig"] == f"spool (SHA-256 {'ab' * 32})"
    assert facts["not shown"] == "creep over hours under load"
    assert (facts["seed"], facts["flaw"]) == ("7", "debond = 5 %")
    assert "seed" not in {p.get("name") for p in written(verdict(twin=None), tmp_path).iter("property")}


@pytest.mark.parametrize(
    ("outcome", "tag"), [("accept", None), ("reject", "failure"), ("undecided", "failure"), ("void", "error")]
)
def test_the_verdict_is_a_case_of_its_own(verdict: MakeVerdict, tmp_path: Path, outcome: str, tag: str | None) -> None:
    """Every check may be accepted and the verdict undecided all the same, because nobody applied a load."""
    root = written(verdict(verdict=outcome, checks=(), steps=(), why=("first", "second")), tmp_path)
    problems = [(p.tag, p.get("type"), p.get("message")) for p in case(root, "verdict", "verdict")]
    assert problems == ([] if tag is None else [(tag, outcome, "first; second")])


def test_a_step_broken_off_in_a_void_run_is_an_error(
    verdict: MakeVerdict, step: Callable[..., StepSummary], tmp_path: Path
) -> None:
    broken = step(1, taken="broken off", finding=None, why="the run ended in it")
    root = written(verdict(verdict="void", checks=(), steps=(broken,), why=("tripped: overpressure",)), tmp_path)
    (problem,) = case(root, "1 cycles", "step taken")
    assert (problem.tag, problem.get("type")) == ("error", "void")
    assert problem.get("message") == "broken off: the run ended in it"
    assert counts(root) == {"tests": 3, "failures": 0, "errors": 2, "skipped": -1}


@pytest.mark.parametrize("taken", ["broken off", "whole"])
def test_a_step_that_says_nothing_is_no_pass(
    verdict: MakeVerdict, step: Callable[..., StepSummary], tmp_path: Path, taken: str
) -> None:
    silent = step(1, taken=taken, finding="undecided", why="cannot be judged: no reading")
    root = written(verdict(verdict="undecided", checks=(), steps=(silent,)), tmp_path)
    (problem,) = case(root, "1 cycles", "step taken")
    assert (problem.tag, problem.get("type")) == ("failure", "undecided")


def test_a_source_not_confirmed_safe_is_an_error(verdict: MakeVerdict, tmp_path: Path) -> None:
    end = SafeEnd(source="pump", confirmed=False, load=None, text="no reply")
    (problem,) = case(written(verdict(safe_end=(end,)), tmp_path), "verdict", "pump left safe")
    assert (problem.tag, problem.get("type"), problem.get("message")) == ("error", "not confirmed", "no reply")


def test_letters_that_xml_cannot_hold(verdict: MakeVerdict, check: MakeCheck, tmp_path: Path) -> None:
    nasty = check(subject="h\x00o\x1bo\ufffep<&>\"'\u03b5\ud800", finding="reject", note="]]>")
    root = written(verdict(checks=(nasty,)), tmp_path)
    (failure,) = case(root, "1 cycles", "zero return of h\\x00o\\x1bo\\xfffep<&>\"'ε\\xd800")
    assert failure.get("message", "").endswith("]]>")


def test_the_same_verdict_gives_the_same_bytes(verdict: MakeVerdict, tmp_path: Path) -> None:
    written(verdict(), tmp_path)
    first = (tmp_path / "junit.xml").read_bytes()
    written(verdict(), tmp_path)
    assert (tmp_path / "junit.xml").read_bytes() == first
    assert first.startswith(b"<?xml version='1.0' encoding='utf-8'?>\n<testsuites ")


def test_it_is_valid_by_a_public_schema(
    verdict: MakeVerdict, check: MakeCheck, step: Callable[..., StepSummary], tmp_path: Path
) -> None:
    """junit-10.xsd, (c) 2014 Gregory Boissinot, MIT licence: as the source distribution of pytest 8.4.2 holds it."""
    schema = XMLSchema10(Path(__file__).with_name("junit-10.xsd"))
    nasty = check(subject="h\x00o\ufffe<&>", finding="undecided", note="]]>")
    lost = SafeEnd(source="pump", confirmed=False, load=None, text="no reply")
    broken = step(1, taken="broken off", finding=None, why="the run ended in it")
    for one in (
        verdict(),
        verdict(checks=(), steps=(), verdict="accept"),
        verdict(verdict="void", checks=(nasty,), steps=(broken,), safe_end=(lost,), twin=None),
    ):
        written(one, tmp_path)
        schema.validate(tmp_path / "junit.xml")


@pytest.mark.parametrize("finding", ["reject", "undecided"])
def test_what_is_not_accepted_is_never_a_pass(
    verdict: MakeVerdict, check: MakeCheck, tmp_path: Path, finding: str
) -> None:
    root = written(verdict(checks=(check(finding=finding), check(finding=finding, measured=None))), tmp_path)
    cases = [c for c in root.iter("testcase") if c.get("classname") == "1 cycles"]
    assert [[problem.tag for problem in c] for c in cases] == [["failure"], ["failure"]]


def test_a_text_with_a_semicolon_stays_one_line(verdict: MakeVerdict, tmp_path: Path) -> None:
    given = verdict()
    hint = {"hint": "a source that stops short; then a leak"}
    checks = tuple(check.model_copy(update=hint) for check in given.checks)
    root = written(given.model_copy(update={"checks": checks}), tmp_path)
    (failure,) = case(root, "1 cycles", "zero return of axial (cycle 3)")
    assert failure.text is not None
    assert failure.text.splitlines()[-1] == "look first at: a source that stops short; then a leak"
