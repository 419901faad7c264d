"""The ready-made lists: what is usual at a bench, every word of it marked as having no source.

The figures are common practice, no source: one minute for an accelerator to dry, one minute of pressing, two more
minutes under the tape, a loop 10 to 13 mm from the gauge, 24 h of cure for each 0.4 to 0.5 mm of a brushed coating.
"""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from rigproof.documents import read_document
from rigproof.errors import DocumentError
from rigproof.quantities import parse
from rigproof.steps.cure import Cure
from rigproof.steps.inspection import Inspection
from rigproof.steps.lists import Lists, plain_name, ready_made
from rigproof.steps.tasks import COMMON_PRACTICE, Task


def tasks(of: str, **more: object) -> Mapping[str, Task]:
    return {task.name: task for task in Inspection.model_validate({"of": of, **more}).tasks()}


def seconds(task: Task) -> float | None:
    return task.at_least.value if task.at_least else None


@pytest.mark.parametrize("of", ready_made())
def test_every_word_and_figure_says_that_it_has_no_source(of: str) -> None:
    for task in tasks(of).values():
        assert task.origin == COMMON_PRACTICE
        assert task.at_least_origin in ({COMMON_PRACTICE} if task.at_least else {""})
        assert task.measured is None or task.measured.origin == COMMON_PRACTICE
        assert COMMON_PRACTICE not in task.told()  # the plan says it once


def test_the_least_times() -> None:
    bonding = tasks("bonding")
    assert {name: seconds(task) for name, task in bonding.items() if task.at_least} == {
        "accelerator": 60.0,
        "press": 60.0,
        "rest": 120.0,
    }
    order = list(bonding)
    assert order.index("accelerator") < order.index("press") < order.index("rest") < order.index("peel")


def test_the_loop_of_the_leads() -> None:
    loop = tasks("strain relief")["loop"].measured
    assert loop is not None
    assert (loop.lowest.value, loop.highest.value) == (0.010, 0.013)
    assert list(tasks("strain relief")) == ["loop", "tie down", "pull"]


def test_the_surface_is_abraded_etched_and_then_neutralised() -> None:
    order = list(tasks("surface preparation"))
    assert order.index("bare metal") < order.index("abrade") < order.index("etch") < order.index("neutralise")


@pytest.mark.parametrize("thickness", ["0.4 mm", "0.5 mm", "1 mm"])
def test_a_brushed_coating_has_24_h_for_each_0_4_to_0_5_mm(thickness: str) -> None:
    (task,) = Cure.model_validate({"since": "coating", "thickness": thickness}).tasks()
    days = parse(thickness, "length").value / 0.0005, parse(thickness, "length").value / 0.0004
    assert days[0] * 86400 - 1 <= (seconds(task) or 0.0) <= days[1] * 86400 + 1
    assert (task.origin, task.at_least_origin) == (COMMON_PRACTICE, COMMON_PRACTICE)


@pytest.mark.parametrize(
    ("of", "word"),
    [
        ("surface preparation", "Solvents"),
        ("surface preparation", "dust"),
        ("surface preparation", "Scrapers are sharp"),
        ("surface preparation", "hold energy"),
        ("bonding", "glue skin"),
        ("bonding", "air the place"),
        ("wiring", "burns"),
        ("coating", "vapour"),
    ],
)
def test_the_usual_cautions(of: str, word: str) -> None:
    assert any(word in task.caution for task in tasks(of).values())


def test_a_procedure_replaces_part_of_an_item_and_says_so() -> None:
    changed = tasks("bonding", changes={"press": {"at least": "90 s", "source": "sheet, page 2"}})["press"]
    assert seconds(changed) == 90.0
    assert (changed.origin, changed.at_least_origin) == (COMMON_PRACTICE, "procedure: sheet, page 2")
    assert ". At least 90 s (procedure: sheet, page 2)." in changed.told()
    assert COMMON_PRACTICE not in changed.told()


def test_a_procedure_replaces_every_part_of_an_item() -> None:
    new = {
        "do": "Press with a pad",
        "at least": "2 h",
        "caution": "",
        "value": {"of": "p", "lowest": "1 bar", "highest": "2 bar"},
    }
    task = tasks("bonding", changes={"press": new})["press"]
    assert (task.text, task.origin, seconds(task), task.caution) == ("Press with a pad", "procedure", 7200.0, "")
    assert task.measured is not None
    assert (task.measured.range, task.measured.origin) == ("1 bar to 2 bar", "procedure")


def test_items_are_left_out_and_whole_lists_replaced() -> None:
    assert "accelerator" not in tasks("bonding", **{"leave out": ["accelerator"]})
    own = tasks("bonding", items={"bake": {"do": "Bake it", "at least": "2 h", "source": "sheet 4"}})
    assert [(t.name, t.origin, t.at_least_origin) for t in own.values()] == [
        ("bake", "procedure: sheet 4", "procedure: sheet 4")
    ]


@pytest.mark.parametrize("name", ["", "a:b", "a b c " * 9, "-", " a", "a\nb"])
def test_what_is_no_name_of_an_item(name: str) -> None:
    with pytest.raises(ValueError, match="is no name"):
        plain_name(name)


def test_the_data_is_read_by_the_rules_of_any_document() -> None:
    with pytest.raises(DocumentError, match="at leest"):
        read_document(Lists, text="rigproof: installation/1\nlists: {a: {b: {do: x, at leest: 1 s}}}\n")
