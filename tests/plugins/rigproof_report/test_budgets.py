"""Shares of a budget: what is drawn adds up to what is there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigproof.verdict.record import BudgetLine
from rigproof_report.budgets import WIDTH, budget

if TYPE_CHECKING:
    from .conftest import MakeCheck


def line(name: str, share: float) -> BudgetLine:
    return BudgetLine(input=name, value=1.0, u=0.1, unit="1", dof=None, sensitivity=1.0, contribution=0.1, share=share)


def test_the_largest_come_first_and_the_rest_is_counted(check: MakeCheck) -> None:
    shares = {"a": 0.05, "b": 0.6, "c": 0.2, "d": 0.1, **{f"small {n}": 0.05 / 7 for n in range(7)}}
    found = budget(check(budget=tuple(line(name, share) for name, share in shares.items())))
    assert found is not None
    assert [part.input for part in found.parts] == ["b", "c", "d"]
    assert found.text == "b 60 %; c 20 %; d 10 %; 8 more 10 %"
    assert [part.width for part in found.parts] == pytest.approx([0.6 * WIDTH, 0.2 * WIDTH, 0.1 * WIDTH])
    assert found.parts[2].left == pytest.approx(0.8 * WIDTH)
    assert len(found.lines) == 8
    assert found.rest == pytest.approx(3 * 0.05 / 7)
    assert len({part.look for part in found.parts}) == 3  # told apart without colour


def test_an_input_that_is_hardly_there_is_not_named(check: MakeCheck) -> None:
    found = budget(check(budget=(line("big", 0.997), line("small", 0.003))))
    assert found is not None
    assert found.text == "big 100 %; 1 more below 1 %"


def test_nothing_uncertain_has_no_budget(check: MakeCheck) -> None:
    assert budget(check()) is None
    assert budget(check(budget=(line("exact", 0.0),))) is None
