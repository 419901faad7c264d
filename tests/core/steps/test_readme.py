"""The page on guided installation says what is true: its procedure is read, its talk is held, its answers answer."""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.clock import JumpingClock
from rigproof.commands.scripted import Scripted
from rigproof.commands.terminal import Terminal
from rigproof.documents import fit, load_procedure, load_rig
from rigproof.errors import ExitCode
from rigproof.people import Answers
from rigproof.plugins import Registry
from rigproof.run.interview import Interview
from rigproof.run.live import LiveRig
from rigproof.run.paper import PaperJournal
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.signals import StopSignals
from rigproof.steps.cure import Cure, Warmth
from rigproof.steps.inspection import Inspection
from rigproof.steps.lists import Change, Item, MeasuredValue, ready_made
from rigproof.steps.signature import Signature

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "core" / "rigproof" / "steps" / "README.md").read_text("utf-8")


def snippet(language: str) -> str:
    (found,) = re.findall(rf"```{language}\n(.*?)```", PAGE, re.DOTALL)
    return str(found)


PRESS = """\
  - inspection: {of: bonding, leave out: [position, accelerator, adhesive, rest, peel, look]}
  - signature: {of: ready for coating, statement: The bond is sound, by: another person}
"""


def guided(plan: Plan, answers: Answers, clock: JumpingClock) -> LiveRig:
    return LiveRig(
        *(plan.rig, plan.procedure.decision, {}, PaperJournal(clock), clock, StopSignals(), Silent()),
        person=Interview(answers, lambda *_, **__: None, lambda: None),
    )


def test_the_procedure_fits_a_rig_and_can_be_planned(spool_folder: Path, tmp_path: Path, registry: Registry) -> None:
    rig = load_rig(spool_folder / "rig.yaml", registry)
    procedure = load_procedure(text=snippet("yaml"), registry=registry)
    fit(rig, procedure)
    assert all(step.trouble == "" for step in Plan(rig, procedure, registry).rehearsed)


@pytest.mark.parametrize("line", snippet("sh").splitlines())
def test_the_commands_run(line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program, *arguments = line.replace("rigs/beam", str(ROOT / "rigs" / "beam")).split()
    assert program == "rigproof"
    monkeypatch.chdir(tmp_path)
    assert run(arguments) == ExitCode.ACCEPT


def test_the_talk_goes_as_shown(planned: Callable[..., Plan], echoing: Callable[..., io.StringIO]) -> None:
    plan = planned(PRESS)
    keyboard, terminal = os.openpty()
    screen = echoing(keyboard, re.findall("^> (.*)$", snippet("text"), re.MULTILINE))
    try:
        live = guided(plan, Terminal(terminal, screen, "A. Example"), JumpingClock())
        plan.procedure.steps[0].acquire(live)
    finally:
        os.close(keyboard)
        os.close(terminal)
    # the one item that is left is the fourth of the whole list, and the first here
    assert screen.getvalue().replace("bonding, 1 of 1", "bonding, 4 of 7") == snippet("text")


def test_the_answers_answer(planned: Callable[..., Plan], tmp_path: Path) -> None:
    file, clock = tmp_path / "answers.txt", JumpingClock()
    file.write_text(snippet("answers"), "utf-8")
    plan = planned(PRESS)
    live = guided(plan, Scripted(file, lambda _: None, clock), clock)
    findings = []
    for number, step in enumerate(plan.procedure.steps, 1):
        live.begin_step(number, step.kind)
        step.acquire(live)
        findings += [check.finding for check in step.judge(plan.rig, live.rule, live.record())]
    assert findings == ["accept", "accept", "reject"]
    assert live.works[0]["took_s"] == 45.0


def test_every_key_and_every_list_is_on_the_page() -> None:
    models = (Inspection, Signature, Cure, Warmth, Change, Item, MeasuredValue)
    keys = {name.replace("_", " ") for model in models for name in model.model_fields} - {"name"}
    assert [key for key in sorted(keys) if f"`{key}`" not in PAGE and f"{key}:" not in PAGE] == []
    assert [name for name in ready_made() if f"`{name}`" not in PAGE] == []
