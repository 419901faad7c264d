"""Where a path leads in a document, and how the place is called."""

from __future__ import annotations

import pytest

from rigproof.documents.reader import read_tree
from rigproof.documents.source import source_of
from rigproof.documents.tree import Node, find, path_of


@pytest.fixture
def root() -> Node:
    tree, faults = read_tree(source_of("steps:\n  - look: {channels: [hoop, axial]}\n  - look: {channels: hoop}\n", ""))
    assert tree is not None
    assert not faults
    return tree


@pytest.mark.parametrize(
    ("key", "path"),
    [
        ("channels[2]", ("channels", 1)),
        ("leave out[12]", ("leave out", 11)),
        ("channels", ("channels",)),
        ("channels[0]", ("channels[0]",)),
        ("[2]", ("[2]",)),
    ],
)
def test_a_key_names_an_entry_of_its_list_from_1(key: str, path: tuple[str | int, ...]) -> None:
    assert path_of(key) == path


@pytest.mark.parametrize(
    ("path", "place", "where", "whole"),
    [
        (("steps", 0, "look", "channels", 1), (2, 29), "steps[1].look.channels[2]", True),
        (("steps", 0, "look", "channels", 2), (2, 22), "steps[1].look.channels", False),
        (("steps", 1, "look", "channels", 0), (3, 22), "steps[2].look.channels", True),  # one, without its brackets
        (("steps", 1, "look", "nothing"), (3, 11), "steps[2].look", False),
    ],
)
def test_a_path_is_followed_as_far_as_it_goes(
    root: Node, path: tuple[str | int, ...], place: tuple[int, int], where: str, whole: bool
) -> None:
    found = find(root, path)
    assert ((found.value.line, found.value.column), found.where, found.whole) == (place, where, whole)
