"""nightly.yaml: every fault at its place, with its rule and its remedy, and all of them at once."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.campaign.nightly import load_nightly
from rigproof.documents import read_document
from rigproof.documents.nightly import MOST, NightlyDocument
from rigproof.errors import DocumentError, ExitCode, Fault
from rigproof.plugins import Registry
from rigproof.run.plan import Plan, make_plan

HEAD = "rigproof: nightly/1\nseeds: [1, 2]\ntrials:\n"
FOUND = "verdict: reject, checks: [{step: insulation, check: insulation, subject: hoop}]"


@pytest.fixture
def bay(spool_folder: Path, tmp_path: Path) -> Path:
    """The spool without its own nightly.yaml."""
    return Path(shutil.copytree(spool_folder, tmp_path / "bay", ignore=shutil.ignore_patterns("nightly.yaml")))


def faults(bay: Path, plan: Plan, text: str) -> tuple[Fault, ...]:
    (bay / "nightly.yaml").write_text(text, "utf-8")
    with pytest.raises(DocumentError) as raised:
        load_nightly(bay, plan)
    return raised.value.faults


@pytest.mark.parametrize(
    ("trial", "at", "message", "remedy"),
    [
        ("{flaw: leakag, verdict: accept}", "leakag", "no flaw is called 'leakag'", "did you mean 'leakage'?"),
        ("{flaw: misread, verdict: accept}", "misread", "no strain of the rig is read by hand", "what can be planted"),
        (f"{{flaw: leakage, sizes: [5 bar], {FOUND}}}", "5 bar", "'bar' is a unit of gauge", "one of the units"),
        ("{flaw: thin-wall, sizes: [5 %, 96 %], verdict: accept}", "96 %", "size from 0 % to 95 %", "what a size is"),
        ("{flaw: turned-sign, sizes: [5 %], verdict: accept}", "5 %", "turned-sign has no size: '5 %'", "leave"),
        ("{sizes: [5 %], verdict: accept}", "5 %", "a sound rig has no size", "leave `sizes` out"),
        (f"{{flaw: leakage, sizes: [9 MΩ, 9MΩ], {FOUND}}}", "[9", "9MΩ stands here twice", "write each once"),
        (f"{{flaw: leakage, sizes: [], {FOUND}}}", "[]", "no entry stands here, and at least 1 must", "are missing"),
        ("{seeds: [1, -2], verdict: accept}", "-2", "'-2' is below 0", "within the bounds"),
        ("{seeds: [1, x], verdict: accept}", "x]", "'x' is not a whole number", "write digits"),
        ("{seeds: 9 to 3, verdict: accept}", "9", "'9 to 3' has none", "the smaller number first"),
        ("{seeds: 0 to 10000, verdict: accept}", "0", "or more than 10,000 seeds", "the smaller number first"),
        ("{seeds: some, verdict: accept}", "some", "'some' names no seeds", "write `1 to 20`, or a list"),
        ("{verdict: pass}", "pass", "'pass' is none of accept, reject, undecided, void", "known here: accept"),
        ("{flaw: leakage, verdict: reject}", "{", "what a run that ends reject is known by", "write `checks: …`"),
        ("{flaw: open-lead, verdict: void}", "{", "what a run that ends void is known by", "write `why: …`"),
        ("{verdict: accept, why: well}", "{", "`why` tells nothing of a run that ends accept", "leave it out"),
        (f"{{{FOUND}, also: []}}", "also", "unknown key 'also'", "checks, also possible"),
        (
            "{verdict: reject, checks: [{step: insultion, check: insulation, subject: hoop}]}",
            "insultion", "'insultion' is no step of the procedure", "did you mean 'insulation'?",
        ),
        (
            "{verdict: reject, checks: [{step: 8, check: insulation, subject: hoop}]}",
            "8", "'8' is no step of the procedure", "its number from 1 to 7",
        ),
        (
            "{verdict: reject, checks: [{step: cycles, check: insulation, subject: hoop}]}",
            "insulation", "cycles makes no check 'insulation'", "zero return",
        ),
        (
            "{verdict: reject, checks: [{step: 6, check: zero return, subject: pressure}]}",
            "pressure", "6 checks zero return of no 'pressure'", "known here: hoop, axial",
        ),
    ],
)  # fmt: skip
def test_a_fault_has_place_rule_and_remedy(
    bay: Path, spool: Plan, trial: str, at: str, message: str, remedy: str
) -> None:
    (fault,) = faults(bay, spool, f"{HEAD}  - {trial}\n")
    assert (fault.file, fault.line) == (str(bay / "nightly.yaml"), 4)
    assert fault.column == len("  - ") + trial.index(at) + 1
    assert message in fault.message
    assert remedy in fault.remedy


def test_all_faults_come_at_once_and_in_order(bay: Path, spool: Plan) -> None:
    text = f"{HEAD}  - {{flaw: leakag, {FOUND}}}\n  - {{verdict: accept, seeds: [x]}}\n  - {{verdict: nothing}}\n"
    assert [fault.line for fault in faults(bay, spool, text)] == [4, 5, 6]


def test_one_expectation_for_each_acceptance(bay: Path, spool: Plan) -> None:
    text = (
        f"{HEAD}  - {{flaw: leakage, sizes: [9 MΩ], {FOUND}}}\n"
        "  - {flaw: leakage, sizes: [9MΩ], seeds: [0, 2], verdict: accept}\n"
        "  - {verdict: accept}\n  - {verdict: accept, seeds: 2 to 3}\n"
    )
    assert [(fault.line, fault.message) for fault in faults(bay, spool, text)] == [
        (5, "leakage 9MΩ on seed 2 stands in an earlier trial, too"),
        (7, "the sound rig on seed 2 stands in an earlier trial, too"),
    ]


def test_it_has_an_end() -> None:
    trials = "".join(f"  - {{flaw: f{n}, verdict: accept, seeds: 1 to 10000}}\n" for n in range(MOST // 10_000 + 1))
    with pytest.raises(DocumentError, match="these are 110,000 acceptances, more than 100,000"):
        read_document(NightlyDocument, text=HEAD + trials)


def test_check_reads_it_with_the_other_documents(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (bay / "nightly.yaml").write_text(f"{HEAD}  - {{verdict: pass}}\n  - {{flaw: leakag, {FOUND}}}\n", "utf-8")
    rig = bay / "rig.yaml"
    rig.write_text(rig.read_text("utf-8").replace("ends: closed", "ends: shut"), "utf-8")
    assert run(["check", str(bay)]) == ExitCode.WRONG_INPUT
    said = capsys.readouterr().err
    assert "rig.yaml:8:9: part.ends: 'shut'" in said
    assert "nightly.yaml:4:15: trials[1].verdict: 'pass'" in said  # what needs the rig to be known is said later


def test_check_counts_what_it_comes_to(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (bay / "nightly.yaml").write_text(f"{HEAD}  - {{verdict: accept}}\n", "utf-8")
    assert run(["check", str(bay)]) == ExitCode.ACCEPT
    assert (
        f"nightly.yaml: 2 acceptances, taken by `pytest {bay}`: runs of the simulated rig\n" in capsys.readouterr().out
    )
    (bay / "nightly.yaml").unlink()
    assert run(["check", str(bay)]) == ExitCode.ACCEPT
    assert "nightly" not in capsys.readouterr().out


def test_check_looks_at_its_form_where_nothing_can_be_simulated(bay: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (bay / "twin.yaml").unlink()
    (bay / "nightly.yaml").write_text(f"{HEAD}  - {{flaw: of another twin, verdict: accept}}\n", "utf-8")
    assert run(["check", str(bay)]) == ExitCode.ACCEPT
    assert "nightly.yaml cannot be taken: there is no twin.yaml." in capsys.readouterr().out
    (bay / "nightly.yaml").write_text(f"{HEAD}  - {{verdict: pass}}\n", "utf-8")
    assert run(["check", str(bay)]) == ExitCode.WRONG_INPUT
    assert "'pass' is none of accept" in capsys.readouterr().err


def test_what_a_step_checks_is_not_asked_where_its_rise_would_be_stopped(bay: Path, registry: Registry) -> None:
    procedure = bay / "acceptance.yaml"
    text = procedure.read_text("utf-8").replace("stages: [50 %", "proportionality: within 0.01 %, stages: [50 %")
    procedure.write_text(text, "utf-8")
    check = "{step: proof, check: permanent set, subject: hoop}"
    (bay / "nightly.yaml").write_text(f"{HEAD}  - {{verdict: reject, checks: [{check}]}}\n", "utf-8")
    assert len(load_nightly(bay, make_plan(bay, registry))) == 2


def test_its_schema_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["schema", "nightly"]) == ExitCode.ACCEPT
    assert json.loads(capsys.readouterr().out)["title"] == "rigproof: nightly/1"
