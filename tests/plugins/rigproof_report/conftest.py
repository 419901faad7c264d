"""A verdict with one check of every finding."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from rigproof.verdict.record import Check, DocumentRecord, SafeEnd, StepSummary, ToleranceRecord, TwinRecord, Verdict

MakeCheck = Callable[..., Check]
MakeVerdict = Callable[..., Verdict]


def make_check(**changed: Any) -> Check:
    values: dict[str, Any] = {
        "step": 1,
        "step_kind": "cycles",
        "name": "zero return",
        "subject": "hoop",
        "kind": "strain",
        "measured": 3.1e-6,
        "u": 0.42e-6,
        "dof": None,
        "tolerance": ToleranceRecord(lower=-2.36e-6, upper=2.36e-6, origin="procedure: within 1 %", computed=False),
        "guard_band": 0.69e-6,
        "acceptance_lower": -1.67e-6,
        "acceptance_upper": 1.67e-6,
        "conformance_probability": 0.039,
        "finding": "accept",
    }
    return Check(**(values | changed))


def make_step(number: int, kind: str = "cycles", **changed: Any) -> StepSummary:
    values: dict[str, Any] = {
        "step": number,
        "kind": kind,
        "taken": "whole",
        "finding": "accept",
        "shows": (),
        "channels": (),
    }
    return StepSummary(**(values | changed))


def make_verdict(**changed: Any) -> Verdict:
    checks = (
        make_check(),
        make_check(subject="axial", at="cycle 3", finding="reject", note="after two cycles"),
        make_check(
            step=2,
            step_kind="insulation",
            name="insulation",
            kind="insulation resistance",
            measured=None,
            note="above the range of the tester",
            tolerance=ToleranceRecord(lower=1e9, upper=None, origin="procedure: at least 1 GΩ", computed=False),
            acceptance_lower=1e9,
            acceptance_upper=None,
        ),
        make_check(
            step=3,
            step_kind="proof",
            name="hoop strain",
            measured=4.1e-4,
            expected=4.0e-4,
            u_expected=3.8e-6,
            difference=1.0e-5,
            u_difference=3.9e-6,
            U=1.0e-5,
            k=2.564,
            coverage=0.99,
            rule="agreement within U, 99 %",
            guards="rejection",
            conformance_probability=None,
            dof=12.5,
            tolerance=ToleranceRecord(lower=3.9e-4, upper=4.1e-4, origin="part model", computed=True),
            finding="undecided",
            improve="part wall",
        ),
    )
    document = DocumentRecord(name="spool", sha256="ab" * 32)
    values: dict[str, Any] = {
        "verdict": "reject",
        "why": ("cycles: zero return of axial (cycle 3) is reject",),
        "simulated": True,
        "twin": TwinRecord(seed=7, flaws=("debond = 5 %",)),
        "rig": document,
        "part": "cylinder",
        "procedure": document,
        "journal": document,
        "started": "2026-11-25T08:00:00+00:00",
        "ended": "2026-11-25T09:00:00+00:00",
        "end": "finished",
        "decision_rule": "guarded acceptance",
        "risk": 0.05,
        "coverage": 0.99,
        "instruments": (),
        "plugins": (),
        "judged_with": (),
        "steps": (
            make_step(1, finding="reject"),
            make_step(2, "insulation"),
            make_step(3, "proof", finding="undecided"),
            make_step(4, "signature", taken="not taken", finding=None, why="no load before earlier checks are settled"),
        ),
        "checks": checks,
        "shown": (),
        "not_shown": ("creep over hours under load",),
        "safe_end": (SafeEnd(source="pump", confirmed=True, load=0.0, text="vent open"),),
        "cautions": (),
    }
    return Verdict(**(values | changed))


@pytest.fixture
def check() -> MakeCheck:
    return make_check


@pytest.fixture
def step() -> Callable[..., StepSummary]:
    return make_step


@pytest.fixture
def verdict() -> MakeVerdict:
    return make_verdict
