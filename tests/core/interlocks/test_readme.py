"""The page about interlocks: its examples are read, and its table has every key."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from rigproof.documents import load_rig
from rigproof.documents.interlocks import KINDS
from rigproof.plugins import Registry
from rigproof.run.plan import Plan

PAGE = (Path(__file__).parents[3] / "core" / "rigproof" / "interlocks" / "README.md").read_text("utf-8")
RIG, STEP = re.findall(r"```yaml\n(.*?)```", PAGE, re.DOTALL)


def test_the_examples_are_read(spool: Plan, registry: Registry, planned: Callable[..., Plan]) -> None:
    text = spool.rig.text[: spool.rig.text.index("interlocks:")] + RIG
    rig = load_rig(text=text, registry=registry)
    assert {type(lock) for lock in rig.interlocks.values()} == set(KINDS)
    plan = planned(f"  {STEP}")
    assert [step.kind for step in plan.procedure.steps] == ["arming"]


def test_the_table_has_every_key() -> None:
    rows = "".join(line for line in PAGE.splitlines() if line.startswith("| "))
    marks = {mark for kind in KINDS for mark in kind.marks} | {"above", "below"}
    assert {mark for mark in marks if f"`{mark}`" not in rows} == set()


def test_it_says_that_software_protects_nobody() -> None:
    assert "no protective device" in PAGE
    assert "relief device" in PAGE
