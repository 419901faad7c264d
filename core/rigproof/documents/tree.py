"""A document as read: plain values, each with its place in the text."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Mark:
    """A place: line and column from 1, counted in characters, and how many characters to underline."""

    line: int
    column: int
    width: int


@dataclass(slots=True)
class Node:
    """A text (None: nothing was written), a mapping or a list."""

    mark: Mark
    value: str | dict[str, Node] | list[Node] | None
    keys: dict[str, Mark] = field(default_factory=dict)  # of a mapping

    def plain(self) -> Any:
        """The value without places: str, None, dict and list."""
        if isinstance(self.value, dict):
            return {key: node.plain() for key, node in self.value.items()}
        if isinstance(self.value, list):
            return [node.plain() for node in self.value]
        return self.value

    def child(self, part: str | int) -> Node | None:
        """The node under a key or an index."""
        if isinstance(self.value, dict) and isinstance(part, str):
            return self.value.get(part)
        if isinstance(self.value, list) and isinstance(part, int) and 0 <= part < len(self.value):
            return self.value[part]
        return None


@dataclass(frozen=True, slots=True)
class Found:
    """Where a path leads: as far as the document goes along it."""

    value: Mark  # of the value; of its key where nothing is written
    key: Mark  # of the key; of the value where there is none
    where: str  # such as `steps[2].shunt.resistor`; entries of a list count from 1, as people do
    whole: bool  # the last part of the path is in the document
    node: Node


_ENTRY = re.compile(r"(.+)\[([1-9][0-9]{0,5})\]")


def path_of(key: str) -> tuple[str | int, ...]:
    """A key as a path: `channels[2]` is the second entry of the list under `channels`."""
    entry = _ENTRY.fullmatch(key)
    return (entry[1], int(entry[2]) - 1) if entry else (key,)


def find(root: Node, path: Sequence[str | int]) -> Found:
    """Follow a path; parts that are not in the document (names pydantic gives to branches) are left out.

    An entry of a list that is written as a single text without its brackets is that text.
    """
    node, key, where, whole = root, None, "", True
    for part in path:
        if isinstance(part, int) and isinstance(node.value, str):
            continue
        child = node.child(part)
        whole = child is not None
        if child is None:
            continue
        key = node.keys.get(part) if isinstance(part, str) else None
        where += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if where else part
        node = child
    top = next(iter(root.keys.values()), root.mark) if node is root else node.mark
    value = key if node.value is None and key is not None else top
    return Found(value, key or value, where or "document", whole, node)
