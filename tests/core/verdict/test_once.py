"""What a run has judged is not judged again, unless anything differs."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import ClassVar
from weakref import ref

import numpy as np
import pytest

from rigproof.documents import Rig, load_procedure
from rigproof.journal import Entry, Journal, read_journal
from rigproof.plugins import Registry
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.steps.balance import Balance
from rigproof.steps.base import Step
from rigproof.steps.record import StepRecord
from rigproof.uncertainty import Rule
from rigproof.verdict import judging
from rigproof.verdict.judging import Once, StepResult, judge
from rigproof.verdict.record import Check, Verdict, to_bytes

Rewritten = Callable[[Iterable[Entry]], Journal]


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The numbers of the steps that are judged from here on."""
    seen: list[int] = []
    real = judging.judge_step

    def counting(step: Step, rig: Rig, rule: Rule, record: StepRecord) -> StepResult:
        seen.append(record.step)
        return real(step, rig, rule, record)

    monkeypatch.setattr(judging, "judge_step", counting)
    return seen


def test_a_run_judges_each_step_once_and_a_reader_finds_the_same(
    accept: Callable[..., Verdict],
    planned: Callable[..., Plan],
    registry: Registry,
    tmp_path: Path,
    counted: list[int],
) -> None:
    plan = planned("  - resistance: {}\n  - balance: {settle: 5 s}\n")
    verdict = accept(plan, tmp_path)
    assert counted == [1, 2]
    assert judge(read_journal(tmp_path / "journal.jsonl"), registry) == verdict
    assert counted == [1, 2, 1, 2]


class Blind(Balance):
    """A plugin's step with a defect in its `judge`."""

    kind: ClassVar[str] = "blind"

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        raise ArithmeticError(f"{len(record.blocks('nothing of the kind'))} is no divisor")


class Heard(Silent):
    """Keeps what is said."""

    def __init__(self) -> None:
        self.said: list[str] = []

    def say(self, text: str) -> None:
        self.said.append(text)


def test_the_place_of_a_plugins_defect_is_said_and_does_not_stand_in_the_verdict(
    accept: Callable[..., Verdict], spool: Plan, registry: Registry, tmp_path: Path
) -> None:
    """Else the plugin could not be edited without another digest of the verdict."""
    mine = replace(registry, steps=registry.steps | {"blind": Blind})
    text = "rigproof: procedure/1\nname: x\nsteps:\n  - blind: {settle: 5 s}\n"
    heard = Heard()
    plan = Plan(spool.rig, load_procedure(text=text, registry=mine), mine)
    verdict = accept(plan, tmp_path, progress=heard)
    place = f"{__file__}:{Blind.judge.__code__.co_firstlineno + 1}"
    assert f"blind cannot be judged: 0 is no divisor ({place})" in heard.said
    assert verdict.steps[0].why == "cannot be judged: 0 is no divisor"
    assert "test_once" not in to_bytes(verdict).decode()


def test_no_readings_are_kept(spool: Plan) -> None:
    record = StepRecord(1, "balance", (Entry(0, 0.0, "step", {"step": 1, "step_kind": "balance", "taken": "begun"}),))
    gone, once = ref(record), Once()
    once(spool.procedure.steps[0], spool.rig, spool.procedure.decision, record)
    del record
    gc.collect()
    assert gone() is None


@pytest.mark.parametrize(
    ("label", "step"),
    [("resistance", 1), ("closed", 4)],  # of the gauges as found by the first the later ones make use
)
def test_a_reading_that_differs_is_judged_again(
    sound: tuple[Entry, ...],
    rewritten: Rewritten,
    registry: Registry,
    counted: list[int],
    label: str,
    step: int,
) -> None:
    once = Once()
    judge(rewritten(sound), registry, once)
    counted.clear()
    judge(rewritten(sound), registry, once)
    assert counted == []
    at = next(n for n, entry in enumerate(sound) if entry.data.get("label") == label)
    values = {name: list(np.multiply(column, 1.001)) for name, column in sound[at].data["values"].items()}
    doctored = [*sound[:at], replace(sound[at], data={**sound[at].data, "values": values}), *sound[at + 1 :]]
    changed = rewritten(doctored)
    again = judge(changed, registry, once)
    assert step in counted
    assert again == judge(changed, registry)


def test_another_rig_is_judged_again(
    sound: tuple[Entry, ...],
    told: Callable[..., list[Entry]],
    rewritten: Rewritten,
    registry: Registry,
    counted: list[int],
) -> None:
    once = Once()
    judge(rewritten(sound), registry, once)
    counted.clear()
    judge(rewritten(told(sound, ("4.52 mm", "4.42 mm"))), registry, once)
    assert len(counted) == 6
