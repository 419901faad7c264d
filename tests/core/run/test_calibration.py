"""Certificates: what they say is added to the readings, and what becomes of a run when they have run out."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from rigproof.__main__ import run
from rigproof.errors import DocumentError, ExitCode
from rigproof.journal import Entry, read_journal
from rigproof.run.calibration import overdue
from rigproof.run.plan import Plan
from rigproof.steps.terms import absolute, change
from rigproof.verdict.record import Verdict

Planned = Callable[..., Plan]
ACCURACY = "accuracy: {of reading: 0.1 %, fixed: 0.02 bar, zero drift: 0.005 bar}"
GAIN, FIXED = "of reading: {value: 0.12 %, U: 0.05 %, k: 2}", "fixed: {value: 0.03 bar, U: 0.02 bar, k: 2}"
STEPS = """\
  - balance: {settle: 2 s}
  - shunt: {resistor: 174.8 kΩ ± 0.1 %}
  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 2 s, rest: 5 s, readings: 5}
"""


def corrected(correction: str, accuracy: str = "") -> tuple[str, str]:
    """A change of rig.yaml: the transmitter's certificate speaks, its data sheet no more than `accuracy`."""
    return ACCURACY, f"{accuracy}\n    correction: {{{correction}}}".lstrip("\n ")


def test_a_correction_is_added_and_its_uncertainty_counts(planned: Planned) -> None:
    """25 bar × 1.0012 + 0.03 bar; u² = (25 bar × 0.025 %)² + (0.01 bar)² (JCGM 100:2008, 5.1.2), by hand."""
    plan = planned(STEPS, corrected(f"{GAIN}, {FIXED}"))
    found = absolute(plan.rig.channels["pressure"], np.array([25e5]), "reading", "Pa").estimate()
    assert found.value == pytest.approx(25.06e5, rel=1e-12)
    assert found.u == pytest.approx(0.011792e5, rel=1e-4)


def test_a_fixed_correction_cancels_in_a_change(planned: Planned) -> None:
    plan = planned(STEPS, corrected(f"{GAIN}, {FIXED}"))
    channel = plan.rig.channels["pressure"]
    found = change(channel, np.array([25e5]), np.array([1e5]), "level", "Pa").estimate()
    assert found.value == pytest.approx(24e5 * 1.0012, rel=1e-12)
    assert found.u == pytest.approx(24e5 * 0.00025, rel=1e-9)


def test_what_the_accuracy_says_beside_it_adds_in_quadrature(planned: Planned) -> None:
    """Limits ± 0.1 % are u = 0.1 %/√3 (JCGM 100:2008, 4.3.7)."""
    plan = planned(STEPS, corrected(GAIN, "accuracy: {of reading: 0.1 %}"))
    found = absolute(plan.rig.channels["pressure"], np.array([25e5]), "reading", "Pa").estimate()
    assert found.u == pytest.approx(25e5 * np.hypot(0.00025, 0.001 / np.sqrt(3)), rel=1e-9)


def test_a_transmitter_that_shows_too_little_passes_by_its_certificate_alone(
    planned: Planned,
    accept: Callable[..., Verdict],
    tmp_path: Path,
    judged: Callable[..., Verdict],
    told: Callable[..., list[Entry]],
) -> None:
    """The same record with the certificate left out: strain per bar is then 6 % too high."""
    old, new = corrected(
        "of reading: {value: 6 %, U: 0.1 %, k: 2}, fixed: {value: 0.3 bar, U: 0.02 bar, k: 2}", ACCURACY
    )
    verdict = accept(planned(STEPS, (old, new)), tmp_path)
    assert verdict.verdict == "accept", verdict.why
    without = judged(told(read_journal(tmp_path / "journal.jsonl").entries, (new, ACCURACY)))
    assert without.verdict in {"reject", "undecided"}
    ratio = [
        next(c.measured for c in v.checks if c.name == "sensitivity" and c.measured) for v in (without, verdict)
    ]  # strain per indicated bar in both: what is expected of it moves
    assert ratio[0] == pytest.approx(ratio[1], rel=1e-6)
    expected = [
        next(c.expected for c in v.checks if c.name == "sensitivity" and c.expected) for v in (without, verdict)
    ]
    assert expected[1] / expected[0] == pytest.approx(1.06, rel=1e-3)


def test_a_plan_with_corrections_expects_what_it_expects_without(planned: Planned) -> None:
    """On paper the instruments show too little by just the correction."""
    plain, plan = planned(STEPS), planned(STEPS, corrected("of reading: 5 %, fixed: 0.3 bar", ACCURACY))
    for one, other in zip(plain.rehearsed, plan.rehearsed, strict=True):
        assert not other.trouble
        assert [c.check.finding for c in one.checks] == [c.check.finding for c in other.checks]


def test_interlocks_watch_the_corrected_reading(
    planned: Planned, accept: Callable[..., Verdict], tmp_path: Path
) -> None:
    """30 % too little shown: an indicated 16 bar is 20.8 bar, and the interlock says 20."""
    old, new = corrected("of reading: {value: 30 %, U: 0.1 %, k: 2}", ACCURACY)
    plan = planned(STEPS, (old, new), ("above: 38 bar", "above: 19 bar"))
    verdict = accept(plan, tmp_path)
    assert verdict.end.startswith("tripped: interlock 'overpressure': pressure at 19")


@pytest.mark.parametrize(
    ("correction", "said"),
    [
        ("of reading: 0.1 bar", "correction.of reading"),
        ("fixed: 0.1 K", "correction.fixed"),
        ("offset: 0.1 bar", "unknown key"),
    ],
)
def test_a_correction_in_a_wrong_unit(planned: Planned, correction: str, said: str) -> None:
    with pytest.raises(DocumentError) as raised:
        planned(STEPS, corrected(correction))
    assert said in str(raised.value)


def test_a_correction_needs_a_certificate(planned: Planned) -> None:
    with pytest.raises(DocumentError, match="'transmitter' no certificate it is from"):
        planned(STEPS, corrected(GAIN), ("    calibration: {certificate: 2026-0305, due: 2027-03-15}\n", ""))


# -- run out ------------------------------------------------------------------------------------------------------


@pytest.fixture
def late(spool_folder: Path, tmp_path: Path) -> Callable[[str], Path]:
    """A function: the procedure's word -> a rig whose transmitter is overdue on the twin's day, 2026-11-25."""

    def make(word: str) -> Path:
        folder = tmp_path / "rig"
        shutil.copytree(spool_folder, folder)
        rig = (folder / "rig.yaml").read_text("utf-8").replace("due: 2027-03-15", "due: 2026-11-24")
        rig = rig.replace("    calibration: {certificate: 2026-0299, due: 2027-03-01}\n", "")
        (folder / "rig.yaml").write_text(rig, "utf-8")
        key = f"overdue calibration: {word}\n" if word else ""
        (folder / "acceptance.yaml").write_text(f"rigproof: procedure/1\nname: x\n{key}steps:\n{STEPS}", "utf-8")
        return folder

    return make


def test_a_procedure_that_refuses_starts_no_run(
    late: Callable[[str], Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert run(["run", str(late("refuse")), "--simulated", "--out", str(out)]) == ExitCode.WRONG_INPUT
    said = capsys.readouterr().err
    assert "transmitter (certificate 2026-0305) ran out on 2026-11-24" in said
    assert "Have it calibrated" in said
    assert not out.exists()


@pytest.mark.parametrize("word", ["", "undecided"])
def test_otherwise_the_run_is_never_accepted(
    late: Callable[[str], Path], tmp_path: Path, capsys: pytest.CaptureFixture[str], word: str
) -> None:
    out = tmp_path / "out"
    assert run(["run", str(late(word)), "--simulated", "--out", str(out)]) == ExitCode.UNDECIDED
    said = capsys.readouterr().out
    assert "the calibration of transmitter (P-0220) ran out on 2026-11-24" in said
    assert said.count("no calibration stated: pump, thermometer") == 1
    assert json.loads((out / "verdict.json").read_text("utf-8"))["no_calibration_stated"] == ["pump", "thermometer"]


def test_check_warns(late: Callable[[str], Path], capsys: pytest.CaptureFixture[str]) -> None:
    """With the day of whoever asks; the tests are not older than the certificate."""
    folder = late("refuse")
    text = (folder / "rig.yaml").read_text("utf-8").replace("due: 2026-11-24", "due: 2020-01-31")
    (folder / "rig.yaml").write_text(text, "utf-8")
    assert run(["check", str(folder)]) == ExitCode.WRONG_INPUT
    assert "ran out on 2020-01-31: a run will be refused" in capsys.readouterr().out
    assert run(["check", str(folder), "--json"]) == ExitCode.WRONG_INPUT
    assert "2020-01-31" in json.loads(capsys.readouterr().out)["overdue"][0]


def test_the_last_day_still_counts(spool: Plan) -> None:
    assert overdue(spool.rig, date(2027, 2, 28)) == []
    assert len(overdue(spool.rig, date(2027, 3, 1))) == 2
