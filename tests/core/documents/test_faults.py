"""How faults are shown to people."""

from __future__ import annotations

from typing import Annotated

import pytest
from pydantic import BaseModel, Field, ValidationError

from rigproof.documents import describe
from rigproof.documents.faults import faults_of, in_order
from rigproof.documents.reader import read_tree
from rigproof.documents.source import Source
from rigproof.errors import Fault


def test_place_message_line_carets_remedy() -> None:
    fault = Fault("spool/rig.yaml", 8, 9, "part.wall", "'4.52' has no unit", "write mm", "  wall: 4.52", 4)
    assert describe([fault]).splitlines() == [
        "spool/rig.yaml:8:9: part.wall: '4.52' has no unit",
        "      wall: 4.52",
        "            ^^^^",
        "    write mm",
    ]


def test_a_fault_of_the_whole_file() -> None:
    assert describe([Fault("rig.yaml", 0, 0, "document", "is empty")]) == "rig.yaml: document: is empty"


@pytest.mark.parametrize(
    ("text", "column", "width", "carets"),
    [
        ("a: 大きい x", 8, 1, "          ^"),  # wide letters take two cells
        ("a: e\u0301 x", 7, 1, "     ^"),  # a combining accent takes none
        ("\ta: x", 5, 1, "    ^"),  # a tab is shown as one cell
        ("a: x", 5, 1, "    ^"),  # just behind the end
    ],
)
def test_carets_stand_under_the_fault(text: str, column: int, width: int, carets: str) -> None:
    shown = describe([Fault("f", 1, column, "a", "m", "", text, width)]).splitlines()
    assert shown[2] == "    " + carets


def test_of_a_long_line_the_stretch_around_the_fault_is_shown() -> None:
    text = "a: [" + "x, " * 1000 + "HERE, " + "y, " * 1000 + "]"
    _, line, carets = describe([Fault("f", 1, text.index("HERE") + 1, "a", "m", "", text, 4)]).splitlines()
    assert len(line) <= 105
    assert (line[4], line[-1]) == ("…", "…")
    assert line[carets.index("^") : carets.rindex("^") + 1] == "HERE"


def test_what_a_terminal_would_obey_is_not_shown() -> None:
    assert "\x1b" not in describe([Fault("f", 1, 1, "a", "m", "", "\x1b[31m", 1)])


def test_order_is_by_place_and_nothing_is_said_twice() -> None:
    places = [("b", 1, 1), ("a", 2, 5), ("a", 2, 1), ("b", 1, 1)]
    found = in_order([Fault(file, line, column, "", "m") for file, line, column in places])
    assert [(fault.file, fault.line, fault.column) for fault in found] == [("a", 2, 1), ("a", 2, 5), ("b", 1, 1)]


class Sheet(BaseModel):
    """A document with lists whose lengths are bounded."""

    pair: tuple[str, str]
    some: Annotated[list[str], Field(min_length=1, max_length=3)]


@pytest.mark.parametrize(
    ("pair", "some", "where", "said", "remedy"),
    [
        ("[]", "[a]", "pair", "no entry stands here, and 2 are wanted", "write those that are missing"),
        ("[a]", "[a]", "pair", "1 entry stands here, and 2 are wanted", "write those that are missing"),
        ("[a, b, c]", "[a]", "pair", "3 entries stand here, and at most 2 may", "take away what is too much"),
        ("[a, b]", "[]", "some", "no entry stands here, and at least 1 must", "write those that are missing"),
        ("[a, b]", "[a, b, c, d]", "some", "4 entries stand here, and at most 3 may", "take away what is too much"),
    ],
)
def test_a_list_of_another_length(pair: str, some: str, where: str, said: str, remedy: str) -> None:
    source = Source("sheet.yaml", f"pair: {pair}\nsome: {some}\n")
    root, _ = read_tree(source)
    assert root is not None
    with pytest.raises(ValidationError) as caught:
        Sheet.model_validate(root.plain())
    (fault,) = faults_of(caught.value, source, root)
    assert (fault.where, fault.message, fault.remedy) == (where, said, remedy)
    assert fault.line == (1 if where == "pair" else 2)
