"""Whatever is done to a document: it is read, or its faults are said. Nothing else ever comes out."""

from __future__ import annotations

from collections.abc import Callable

from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.documents import describe
from rigproof.errors import Fault

Faults = Callable[[str], list[Fault]]
Edit = tuple[float, int, str]

SCRAPS = [
    "", " ", "\n", "\t", ":", ": ", "- ", "{", "}", "[", "]", "'", '"', "#", "&a ", "*a", "!!int ", "|", "%", "~", ",",
    "null", "1:20", "NO", "1e99", "9" * 30, "± ", "0", "-1", "name", "model", "µ", "\ud800", "\x00", "\u2028",
]  # fmt: skip
scraps = st.one_of(st.sampled_from(SCRAPS), st.text(max_size=4))
edits = st.lists(st.tuples(st.floats(0, 1), st.integers(0, 12), scraps), min_size=1, max_size=4)


def mutated(text: str, changes: list[Edit]) -> str:
    for where, length, scrap in changes:
        at = int(where * len(text))
        text = text[:at] + scrap + text[at + length :]
    return text


def check(faults: list[Fault]) -> None:
    assert bool(describe(faults)) == bool(faults)
    for fault in faults:
        assert fault.message
        assert fault.line == 0 or 1 <= fault.column <= len(fault.text) + 1


@given(changes=edits)
@settings(max_examples=300)
def test_a_mutated_rig(rig_faults: Faults, rig_text: str, changes: list[Edit]) -> None:
    check(rig_faults(mutated(rig_text, changes)))


@given(changes=edits)
@settings(max_examples=200)
def test_a_mutated_procedure(procedure_faults: Faults, procedure_text: str, changes: list[Edit]) -> None:
    check(procedure_faults(mutated(procedure_text, changes)))


@given(first=st.integers(0, 60), second=st.integers(0, 60))
@settings(max_examples=200)
def test_swapped_lines(rig_faults: Faults, rig_text: str, first: int, second: int) -> None:
    lines = rig_text.splitlines()
    first, second = first % len(lines), second % len(lines)
    lines[first], lines[second] = lines[second], lines[first]
    check(rig_faults("\n".join(lines)))
