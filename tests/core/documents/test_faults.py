"""How faults are shown to people."""

from __future__ import annotations

import pytest

from rigproof.documents import describe
from rigproof.documents.faults import in_order
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
