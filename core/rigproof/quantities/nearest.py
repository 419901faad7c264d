"""The nearest right word: what a person most likely meant."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import SequenceMatcher


def nearest(word: str, words: Iterable[str]) -> str | None:
    """The one of `words` most like `word`, or None when none is close; case, `_`, `-` and spaces do not count."""
    wanted = _plain(word)
    best, best_likeness = None, 0.6
    for candidate in words:
        likeness = SequenceMatcher(None, wanted, _plain(candidate)).ratio()
        if likeness > best_likeness:
            best, best_likeness = candidate, likeness
    return best


def did_you_mean(word: str, words: Iterable[str]) -> str:
    """A remedy: the nearest of `words`, or all of them when none is close."""
    choices = list(words)
    best = nearest(word, choices)
    if best is not None:
        return f"did you mean '{best}'?"
    return f"known here: {', '.join(choices)}" if choices else "nothing of the sort exists here"


def _plain(word: str) -> str:
    # Cut first: the comparison is quadratic and a document may hold a very long key.
    return word[:60].casefold().replace("_", " ").replace("-", " ")
