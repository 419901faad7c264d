"""Text to a tree of plain values with their places.

The events of PyYAML's C parser, and nothing of YAML's typing: every scalar is a text, so that `NO`, `1:20` and `010`
stay what was written. Anchors, aliases, tags, directives and a second document are refused.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

import yaml

from rigproof.documents.source import Source
from rigproof.documents.tree import Mark, Node
from rigproof.errors import Fault

DEEPEST = 32
MOST_NODES = 50_000
MOST_FAULTS = 200
LONGEST_KEY = 100
NOTHING = {"", "~", "null", "Null", "NULL"}

# The C parser places faults best and is four times as fast; a PyYAML built without it still reads every document.
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

NO_COLON = "could not find expected ':'"
NO_KEY = "did not find expected key"
SECOND_COLON = "mapping values are not allowed in this context"

_SAID = {
    SECOND_COLON: (
        "a second ': ' in one line, or a line that is not indented like its neighbours",
        "put a text that has ': ' in it into quotes, or correct the indentation",
    ),
    NO_COLON: ("this line has no ': ' after its key", "write `key: value`, with a space after the colon"),
    "did not find expected '-' indicator": (
        "this line stands among the entries of a list, and does not begin with `- `",
        "begin it so, or indent it like the lines it belongs with",
    ),
    "did not find expected ',' or '}'": ("the `{` that stands here is not closed", "close it with `}`"),
    "did not find expected ',' or ']'": ("the `[` that stands here is not closed", "close it with `]`"),
    "did not find expected <document start>": ("the document has ended before this", "keep one document in a file"),
    "found unexpected end of stream": ("the text in quotes that begins here is not closed", "close the quotes"),
}


class _Stop(Exception):
    """A fault after which the rest of the document cannot be understood."""

    def __init__(self, fault: Fault) -> None:
        self.fault = fault


@lru_cache(maxsize=8)
def read_tree(source: Source, wanted: str = "…") -> tuple[Node | None, tuple[Fault, ...]]:
    """The tree of a document and the faults of its form; None where the faults leave nothing to look at.

    `wanted` is the format, such as `rig/1`, for the message about an empty document. A run, its judging and each look
    for a place ask for the same tree again, a campaign thousands of times: it is kept, and nobody changes it.
    """
    reader = _Reader(source, wanted)
    try:
        return reader.document(), tuple(reader.faults)
    except _Stop as stop:
        return None, (*reader.faults, stop.fault)
    except yaml.YAMLError as error:
        fault = _syntax_fault(source, error)
        return None, (*(one for one in reader.faults if one.place != fault.place), fault)


class _Reader:
    """One pass over the events of one document."""

    def __init__(self, source: Source, wanted: str) -> None:
        self._source = source
        self._format = wanted
        self._events: Iterator[yaml.Event] = yaml.parse(source.body, Loader=_LOADER)
        self._count = 0
        self.faults: list[Fault] = []

    def document(self) -> Node:
        """The only document of the stream."""
        next(self._events)
        start = next(self._events)
        if not isinstance(start, yaml.DocumentStartEvent):
            said = "the document is empty"
            raise _Stop(
                self._source.fault(0, 0, "document", said, f"begin it with the line `rigproof: {self._format}`")
            )
        if start.version or start.tags:
            self._refuse(start, "a directive (%)", "leave the line out")
        root = self._node(next(self._events), 1)
        next(self._events)
        after = next(self._events)
        if isinstance(after, yaml.DocumentStartEvent):
            raise _Stop(self._fault(after, "a second document begins here", "keep one document in a file"))
        return root

    def _node(self, event: Any, depth: int) -> Node:
        self._count += 1
        if self._count > MOST_NODES:
            raise _Stop(self._fault(event, f"more than {MOST_NODES:,} values", "is this the right file?"))
        if len(self.faults) >= MOST_FAULTS:
            raise _Stop(self._fault(event, f"{MOST_FAULTS} faults before this one", "is this the right file?"))
        if depth > DEEPEST:
            raise _Stop(self._fault(event, f"nested deeper than {DEEPEST} levels", "is this the right file?"))
        if isinstance(event, yaml.AliasEvent):
            raise _Stop(self._fault(event, f"an alias (*{event.anchor}) is not allowed", "write the value itself"))
        if event.anchor is not None:
            self._refuse(event, f"an anchor (&{event.anchor})", "write each value where it belongs")
        if event.tag is not None:
            self._refuse(event, f"a tag ({event.tag})", "leave it out: the key says what a value is")
        if isinstance(event, yaml.MappingStartEvent):
            return self._mapping(event, depth)
        if isinstance(event, yaml.SequenceStartEvent):
            items: list[Node] = []
            while not isinstance(following := next(self._events), yaml.SequenceEndEvent):
                items.append(self._node(following, depth + 1))
            return Node(_mark(event), items)
        if unseen := _unseen(event.value):
            said = "has more than one line" if unseen == "\n" else f"holds U+{ord(unseen):04X}, which nobody can see"
            self.faults.append(self._fault(event, f"the text {said}", "write it in one line, without such characters"))
        nothing = not event.style and event.value in NOTHING
        return Node(_mark(event), None if nothing else event.value)

    def _mapping(self, start: Any, depth: int) -> Node:
        entries: dict[str, Node] = {}
        keys: dict[str, Mark] = {}
        while not isinstance(event := next(self._events), yaml.MappingEndEvent):
            key = self._key(event, depth)
            value = self._node(next(self._events), depth + 1)
            if key is None:
                continue
            if key in keys:
                first = keys[key].line
                said = f"the key {key!r} stands here and in line {first}"
                self.faults.append(self._fault(event, said, "keep one of the two"))
                continue
            entries[key], keys[key] = value, _mark(event)
        return Node(_mark(start), entries, keys)

    def _key(self, event: Any, depth: int) -> str | None:
        node = self._node(event, depth + 1)
        key = event.value if isinstance(event, yaml.ScalarEvent) else None
        if not isinstance(node.value, str | None) or not key or len(key) > LONGEST_KEY:
            said = f"a key is a text of 1 to {LONGEST_KEY} characters"
            self.faults.append(self._fault(event, said, "write `key: value`"))
            return None
        return str(key)

    def _refuse(self, event: Any, what: str, remedy: str) -> None:
        self.faults.append(self._fault(event, f"{what} is not allowed", remedy))

    def _fault(self, event: Any, message: str, remedy: str) -> Fault:
        mark = _mark(event)
        return self._source.fault(mark.line, mark.column, "document", message, remedy, mark.width)


def _unseen(text: str) -> str | None:
    """The first character that would break a message or hide what it says: a line end, an escape, a direction mark."""
    return next((c for c in text if not c.isprintable() and unicodedata.category(c) in {"Cc", "Cf", "Cs"}), None)


def _mark(event: Any) -> Mark:
    start, end = event.start_mark, event.end_mark
    scalar = isinstance(event, yaml.ScalarEvent)
    # A text over several lines is underlined to the end of its first; a mapping or list by its first character.
    width = (end.column - start.column if start.line == end.line else 1_000) if scalar else 1
    return Mark(start.line + 1, start.column + 1, max(1, width))


def _syntax_fault(source: Source, error: yaml.YAMLError) -> Fault:
    problem = str(getattr(error, "problem", None) or getattr(error, "reason", None) or error).strip()
    mark: Any = getattr(error, "problem_mark", None)
    opening: Any = getattr(error, "context_mark", None)
    if mark is None:
        return source.fault(0, 0, "document", problem, "write plain YAML")
    at_end = not source.body[mark.index :].strip()
    opened = opening is not None and opening.index < mark.index
    if opened and (at_end or problem == NO_COLON or problem.endswith(("',' or '}'", "',' or ']'"))):
        mark = opening
    line, column = mark.line + 1, mark.column + 1
    if problem == SECOND_COLON and (before := _without_colon(source, line)):
        (line, column), problem = before, NO_COLON
    tab = _tab(source, line)
    if tab is not None and "\t" in source.lines[line - 1][: column + 1]:
        return source.fault(line, tab, "document", "a tab stands where spaces are wanted", "indent with spaces")
    other = (problem, "put a text with special characters into quotes")
    if at_end:
        said = "the document ends inside what begins here" if opened else "the document ends too early"
        other = (said, "close every bracket and quote")
    message, remedy = _of_no_key(source, line, column) if problem == NO_KEY else _SAID.get(problem, other)
    return source.fault(line, column, "document", message, remedy)


def _of_no_key(source: Source, line: int, column: int) -> tuple[str, str]:
    """What stands where `key:` is wanted: a list's entry, what is left of a line, or a line that fits no other."""
    text = source.lines[line - 1] if line <= len(source.lines) else ""
    if text[: column - 1].strip():
        return "text stands behind the end of a value", "put a text with special characters into quotes as a whole"
    if text[column - 1 :].startswith("- "):
        return "an entry of a list stands where a key is wanted", "indent it like the other entries, below their key"
    return "this line is indented like none that it could belong with", "indent it like the keys beside it"


def _without_colon(source: Source, line: int) -> tuple[int, int] | None:
    """Where the line above, indented alike, has a key without ': ', so that the two read as one text."""
    here = source.lines[line - 1]
    column = len(here) - len(here.lstrip())
    for number in range(line - 1, 0, -1):
        text = source.lines[number - 1].partition(" #")[0].rstrip()
        if text.lstrip() and not text.lstrip().startswith("#"):
            alike = len(text) - len(text.lstrip()) == column and text[column] not in "-{}[]"
            return (number, column + 1) if alike and ": " not in text and not text.endswith(":") else None
    return None


def _tab(source: Source, line: int) -> int | None:
    """Column of the first tab in a line."""
    if not 0 < line <= len(source.lines):
        return None
    column = source.lines[line - 1].find("\t")
    return column + 1 if column >= 0 else None
