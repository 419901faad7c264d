"""A number that no bridge and no sensor gives is a fault of the reading: told as one, kept, and never judged."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rigproof.__main__ import run
from rigproof.errors import ExitCode, InstrumentError
from rigproof.journal import BROKEN_OFF, read_journal
from rigproof.run.plan import Plan
from rigproof.run.possible import expect_possible
from rigproof.verdict.record import Verdict
from rigproof_scpi.bridge_amplifier import BridgeAmplifier

Acceptance = Callable[..., Verdict]


@pytest.fixture
def garbled(monkeypatch: pytest.MonkeyPatch) -> None:
    """An amplifier whose numbers are put together in the wrong order."""
    original = BridgeAmplifier.read

    def read(self: BridgeAmplifier, *request: Any) -> Any:
        return original(self, *request) * 1e30

    monkeypatch.setattr(BridgeAmplifier, "read", read)


@pytest.mark.parametrize(
    ("channel", "values", "told"),
    [
        ("hoop", [0.0, -7.2e30], r"bridge: hoop reads -7\.2e\+33 mV/V, and no resistive bridge puts out more than"),
        ("hoop", [1.0, -1.0, np.nan, np.inf], ""),  # no reading is the matter of the checks
        ("water", [-273.2], r"thermometer: water reads -273\.2 °C, and nothing is colder"),
        ("pressure", [1e30], ""),
    ],
)
def test_what_cannot_be(spool: Plan, channel: str, values: list[float], told: str) -> None:
    block = {channel: np.array(values)}
    if not told:
        expect_possible(spool.rig, block)
        return
    with pytest.raises(InstrumentError, match=told):
        expect_possible(spool.rig, block)


@pytest.mark.usefixtures("garbled")
def test_a_run_ends_void_and_keeps_what_came(accept: Acceptance, planned: Callable[..., Plan], tmp_path: Path) -> None:
    verdict = accept(planned("  - balance: {settle: 2 s}\n"), tmp_path)
    assert verdict.verdict == "void"
    assert "the number is read wrongly" in verdict.why[0]
    kept = [each.data for each in read_journal(tmp_path / "journal.jsonl").entries if each.kind == "samples"]
    assert [each["label"] for each in kept if "hoop" in each["values"]] == [BROKEN_OFF]


@pytest.mark.usefixtures("garbled")
def test_check_tells_it_before_any_run(spool_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code = run(["check", str(spool_folder), "--connect", "--simulated", "--only", "bridge"])
    out = capsys.readouterr().out
    assert code == ExitCode.VOID
    assert "see that input, address, word order, form, unit and scale are those of the manual" in out
    assert "nothing stands against a run" not in out
