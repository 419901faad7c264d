"""The form of a document: what YAML may be used for, and where it is wrong."""

from __future__ import annotations

from time import perf_counter

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from rigproof.documents.reader import read_tree
from rigproof.documents.source import source_of
from rigproof.documents.tree import find
from rigproof.errors import DocumentError


def plain(text: str) -> object:
    root, faults = read_tree(source_of(text, "a.yaml"))
    assert root is not None
    assert faults == ()
    return root.plain()


def test_the_c_parser_is_there() -> None:
    # Places differ a little between the two parsers: the tables below are the C parser's.
    assert yaml.__with_libyaml__


def test_every_scalar_is_a_text() -> None:
    text = "a: NO\nb: on\nc: 1:20\nd: 010\ne: 1.10\nf: 2026-11-25\ng: 0x1F\nh: '~'\ni: 1e3\nNO: yes\n"
    assert plain(text) == {
        "a": "NO", "b": "on", "c": "1:20", "d": "010", "e": "1.10", "f": "2026-11-25", "g": "0x1F", "h": "~",
        "i": "1e3", "NO": "yes",
    }  # fmt: skip


def test_nothing_is_none() -> None:
    assert plain("a:\nb: ~\nc: null\nd: {e: , f: }\ng: ['', ]") == {
        "a": None, "b": None, "c": None, "d": {"e": None, "f": None}, "g": [""],
    }  # fmt: skip


def test_byte_order_mark_comments_and_line_ends_are_no_trouble() -> None:
    assert plain("\ufeffa: 1 # µ\r\nb:\r\n  - x\r\n  - {c: d}\r\n") == {"a": "1", "b": ["x", {"c": "d"}]}


def test_places_count_characters() -> None:
    root, _ = read_tree(source_of("a: {µε🙂: x, wall: 4.52 mm}\n", "a.yaml"))
    assert root is not None
    found = find(root, ("a", "wall"))
    assert (found.key.line, found.key.column, found.key.width) == (1, 13, 4)
    assert (found.value.column, found.value.width, found.where) == (19, 7, "a.wall")


def test_lines_break_as_yaml_breaks_them() -> None:
    root, _ = read_tree(source_of("a: 'x\u2028  y'\nb: z\x0bc\n".replace("\x0b", ""), "a.yaml"))
    assert root is not None
    assert find(root, ("b",)).key.line == 3


BAD = [
    ("", "0:0", "the document is empty"),
    ("# nothing\n", "0:0", "the document is empty"),
    ("a: 1\nb: 2\na: 3\n", "3:1", "the key 'a' stands here and in line 1"),
    ("x: {a: 1, a: 2}\n", "1:11", "the key 'a' stands here and in line 1"),
    ("a:\n\tb: 1\n", "2:1", "a tab stands where spaces are wanted"),
    ("\ta: 1\n", "1:1", "a tab stands where spaces are wanted"),
    ("a:\n  b: 1\n\tc: 2\n", "3:1", "a tab stands where spaces are wanted"),
    ("a: &x 1\n", "1:4", "an anchor (&x) is not allowed"),
    ("a: *x\n", "1:4", "an alias (*x) is not allowed"),
    ("a: !!python/object:os.system x\n", "1:4", "a tag (tag:yaml.org,2002:python/object:os.system) is not allowed"),
    ("a: !x {b: 1}\n", "1:4", "a tag (!x) is not allowed"),
    ("%YAML 1.2\n---\na: 1\n", "1:1", "a directive (%) is not allowed"),
    ("a: 1\n---\nb: 2\n", "2:1", "a second document begins here"),
    ("a: 1\n...\nb: 2\n", "3:1", "the document has ended before this"),
    ("? [a, b]\n: 1\n", "1:3", "a key is a text of 1 to 100 characters"),
    ("'': 1\n", "1:1", "a key is a text of 1 to 100 characters"),
    (f"{'k' * 101}: 1\n", "1:1", "a key is a text of 1 to 100 characters"),
    ("a: |\n  x\n  y\n", "1:4", "the text has more than one line"),
    ('a: "\\e[31m"\n', "1:4", "the text holds U+001B"),
    ("a: x\u202ey\n", "1:4", "the text holds U+202E"),
    ("a: {b: [1, 2}\n", "1:8", "the `[` that stands here is not closed"),
    ("a: {b: 1\nc: 2\n", "1:4", "the `{` that stands here is not closed"),
    ("a: 'x\nb: 1\n", "1:4", "the text in quotes that begins here is not closed"),
    ("a: b: c\n", "1:5", "a second ': ' in one line"),
    ("a: 1\n  b: 2\n", "2:4", "a second ': ' in one line"),
    ("a: 1\n b\nc: 2\nd\n", "4:1", "this line has no ': ' after its key"),
    ("a: 1\nb c\nd: {e: 2}\n", "2:1", "this line has no ': ' after its key"),
    ("a:\n  b: 1\n  ends:closed\n  c: 2\n", "3:3", "this line has no ': ' after its key"),
    ("a:1\n\nc: 2\n", "1:1", "this line has no ': ' after its key"),
    ("a:\n  - 1\n  b: 2\n", "3:3", "this line stands among the entries of a list, and does not begin with `- `"),
    ("a: 1\n- b\n", "2:1", "an entry of a list stands where a key is wanted"),
    ("a:\n    b: 1\n  c: 2\n", "3:3", "this line is indented like none that it could belong with"),
    ("a: 'x' y\nb: 1\n", "1:8", "text stands behind the end of a value"),
    ("a: @x\n", "1:4", "found character that cannot start any token"),
    ("a: 50 %\nb: %\n", "2:4", "found character that cannot start any token"),
    ("[", "1:1", "the document ends too early"),
    ("a: {b: [c,\n", "2:1", "the document ends too early"),
    ("[" * 33, "1:33", "nested deeper than 32 levels"),
    ("- " * 40 + "x", "1:65", "nested deeper than 32 levels"),
    ("a: [" + "x, " * 60_000 + "]", "1:149996", "more than 50,000 values"),
]


def test_an_empty_document_is_told_its_own_first_line() -> None:
    (fault,) = read_tree(source_of("", "a.yaml"), "procedure/1")[1]
    assert fault.remedy == "begin it with the line `rigproof: procedure/1`"


@pytest.mark.parametrize(("text", "place", "said"), BAD, ids=[text[:30] for text, _, _ in BAD])
def test_a_wrong_form(text: str, place: str, said: str) -> None:
    _, faults = read_tree(source_of(text, "a.yaml"))
    assert [f"{fault.line}:{fault.column}" for fault in faults] == [place]
    assert said in faults[0].message
    assert faults[0].remedy


def test_very_many_faults_end_the_reading() -> None:
    root, faults = read_tree(source_of("a: 1\n" * 20_000, "a.yaml"))
    assert root is None
    assert len(faults) == 201
    assert faults[-1].message == "200 faults before this one"


def test_faults_that_hide_nothing_come_together() -> None:
    root, faults = read_tree(source_of("a: &x 1\nb: !!int 2\nb: 3\n? [c]\n: 4\n", "a.yaml"))
    assert root is not None
    assert root.plain() == {"a": "1", "b": "2"}
    assert [fault.line for fault in faults] == [1, 2, 3, 4]


BOMB = "a: &a [x]\n" + "".join(
    f"{chr(98 + i)}: &{chr(98 + i)} [{', '.join([f'*{chr(97 + i)}'] * 10)}]\n" for i in range(9)
)


@pytest.mark.parametrize("text", [BOMB, "[" * 100_000, "{a: " * 100_000, "- " * 100_000, "a: '" + "x" * 10**6])
def test_hostile_documents_cost_nothing(text: str) -> None:
    start = perf_counter()
    _, faults = read_tree(source_of(text, "a.yaml"))
    assert faults
    assert perf_counter() - start < 2.0


@given(st.text())
def test_arbitrary_text_is_read_or_has_faults(text: str) -> None:
    _read_or_fault(text)


@given(st.text(st.sampled_from("ab:- {}[],\n\t'\"#&*!|>%@?~"), max_size=40))
def test_arbitrary_punctuation_is_read_or_has_faults(text: str) -> None:
    _read_or_fault(text)


def _read_or_fault(text: str) -> None:
    try:
        source = source_of(text, "a.yaml")
    except DocumentError:
        return
    root, faults = read_tree(source)
    assert root is not None or faults
    for fault in faults:
        assert 0 <= fault.line <= len(source.lines)
        assert fault.column <= len(fault.text) + 1
