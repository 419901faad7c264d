"""JUnit XML for CI servers: a suite per step, a case per check, and a suite for the verdict itself.

The format knows no third outcome, so whatever is not accepted is a failure or an error there, never a pass. The
last suite stands for what no check says: a void run, a calibration that ran out, a load that nobody applied.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import ClassVar
from xml.etree.ElementTree import Element, ElementTree, SubElement, indent

from rigproof.reports import ReportWriter
from rigproof.verdict import words
from rigproof.verdict.identified import of_verdict
from rigproof.verdict.record import StepSummary, Verdict

# What XML 1.0 (2.2, production 2) has no place for, escaped or not.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


class JUnit(ReportWriter):
    """Writes `junit.xml`."""

    kind: ClassVar[str] = "junit"
    filename: ClassVar[str] = "junit.xml"

    def write(self, verdict: Verdict, folder: Path) -> None:
        """Write the verdict as JUnit XML; raises `OSError`."""
        document = ElementTree(_document(verdict))
        indent(document)
        document.write(folder / self.filename, encoding="utf-8", xml_declaration=True)


def _document(verdict: Verdict) -> Element:
    root = Element("testsuites", name=_clean(f"{verdict.rig.name}: {verdict.procedure.name}"))
    for step in verdict.steps:
        _step(root, verdict, step)
    _whole(root, verdict)
    for suite in root:
        _count(suite, suite.iter("testcase"))
    _count(root, root.iter("testcase"))
    del root.attrib["skipped"]  # schemas of the format know it of a suite alone
    return root


def _step(root: Element, verdict: Verdict, step: StepSummary) -> None:
    suite = _suite(root, f"{step.step} {step.kind}", verdict)
    checks = [check for check in verdict.checks if check.step == step.step]
    for check in checks:
        case = _case(suite, words.title(check))
        if check.finding != "accept":
            _problem(case, "failure", check.finding, *words.sentences(check))
    if step.taken == "not taken":
        SubElement(_case(suite, "step taken"), "skipped", message=_clean(f"not taken: {step.why}"))
    elif step.taken != "whole" or (step.finding is not None and not checks):
        void = verdict.verdict == "void"
        _problem(
            _case(suite, "step taken"),
            "error" if void else "failure",
            "void" if void else "undecided",
            f"{step.taken}: {step.why}" if step.why else step.taken,
        )


def _whole(root: Element, verdict: Verdict) -> None:
    """The verdict, and how each source was left."""
    facts = [
        ("verdict", verdict.verdict),
        ("rig", f"{verdict.rig.name} (SHA-256 {verdict.rig.sha256})"),
        ("procedure", f"{verdict.procedure.name} (SHA-256 {verdict.procedure.sha256})"),
        ("journal", f"{verdict.journal.name} (SHA-256 {verdict.journal.sha256})"),
        ("started", verdict.started),
        ("ended", verdict.ended),
        *of_verdict(verdict).lines(),
        *(("resumed", text) for text in words.resumptions(verdict)),
        *(("not shown", aspect) for aspect in verdict.not_shown),
    ]
    if verdict.twin is not None:
        facts += [("seed", str(verdict.twin.seed)), *(("flaw", flaw) for flaw in verdict.twin.flaws)]
    suite = _suite(root, "verdict", verdict, facts)
    case = _case(suite, "verdict")
    if verdict.verdict != "accept":
        tag = "error" if verdict.verdict == "void" else "failure"
        _problem(case, tag, verdict.verdict, *verdict.why)
    for end in verdict.safe_end:
        case = _case(suite, f"{end.source} left safe")
        if not end.confirmed:
            _problem(case, "error", "not confirmed", end.text)


def _suite(root: Element, name: str, verdict: Verdict, facts: Iterable[tuple[str, str]] = ()) -> Element:
    suite = SubElement(root, "testsuite", name=_clean(name))
    properties = SubElement(suite, "properties")
    marks = [("simulated", verdict.simulated), ("replayed", verdict.replayed)]
    for fact, value in [*((name, "true" if is_so else "false") for name, is_so in marks), *facts]:
        SubElement(properties, "property", name=fact, value=_clean(value))
    return suite


def _case(suite: Element, name: str) -> Element:
    return SubElement(suite, "testcase", classname=suite.attrib["name"], name=_clean(name))


def _problem(case: Element, tag: str, kind: str, *lines: str) -> None:
    problem = SubElement(case, tag, type=kind, message=_clean("; ".join(lines)))
    problem.text = _clean("\n".join([f"{case.attrib['name']}: {kind}", *lines]))


def _count(element: Element, cases: Iterable[Element]) -> None:
    tags = [child.tag for case in cases for child in (case, *case)]
    for attribute, tag in [("tests", "testcase"), ("failures", "failure"), ("errors", "error"), ("skipped", "skipped")]:
        element.set(attribute, str(tags.count(tag)))


def _clean(text: str) -> str:
    return _NOT_XML.sub(lambda match: f"\\x{ord(match[0]):02x}", text)
