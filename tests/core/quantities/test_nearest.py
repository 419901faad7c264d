"""The nearest right word."""

from __future__ import annotations

import pytest

from rigproof.quantities import did_you_mean, nearest

WORDS = ("outside diameter", "wall", "ends", "gauge surface")


@pytest.mark.parametrize(
    ("word", "best"),
    [
        ("outside_diameter", "outside diameter"),
        ("Outside-Diameter", "outside diameter"),
        ("outside diamter", "outside diameter"),
        ("wal", "wall"),
        ("end", "ends"),
        ("temperature", None),
        ("", None),
    ],
)
def test_nearest(word: str, best: str | None) -> None:
    assert nearest(word, WORDS) == best


def test_a_remedy_names_one_word_or_all() -> None:
    assert did_you_mean("wal", WORDS) == "did you mean 'wall'?"
    assert did_you_mean("xyz", WORDS) == "known here: outside diameter, wall, ends, gauge surface"
    assert did_you_mean("xyz", ()) == "nothing of the sort exists here"
    assert nearest("w" * 10**6, WORDS) is None
