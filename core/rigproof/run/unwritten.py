"""What `rigproof new rig` could not know, and nobody has written since: a caution, and no run on real instruments."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rigproof.documents import Rig
from rigproof.documents.load import RIG_FILE, fault_in
from rigproof.documents.reader import read_tree
from rigproof.documents.source import source_of
from rigproof.errors import DocumentError

FILL_IN = "fill in"  # stands where `rigproof new rig` cannot know a value
Path = tuple[str, ...]


def still_to_write(rig: Rig) -> Iterator[str]:
    """The caution, where something is left open."""
    if left := _left(rig):
        yield f"Still to be written in {RIG_FILE}, where {FILL_IN!r} stands: {_listed(left)}."


def refuse_unwritten(rig: Rig) -> None:
    """Raise `DocumentError` at the first place: the rig was never described, or `--simulated` was forgotten."""
    if left := _left(rig):
        what = f"{FILL_IN!r} still stands for {_listed(left)}, and this run would go to the instruments themselves"
        remedy = "write what they say of themselves, or leave such keys out; on the simulated rig: --simulated"
        raise DocumentError([fault_in(rig, left[0], what, remedy)])


def _left(rig: Rig) -> list[Path]:
    root, _ = read_tree(source_of(rig.text, rig.file))
    return [path for path, value in _texts(root.plain() if root else None, ()) if value == FILL_IN]


def _listed(left: list[Path]) -> str:
    owners: dict[str, list[str]] = {}
    for path in left:
        owner = "the rig" if len(path) == 1 else f"the {path[0]}" if len(path) == 2 else path[1]
        owners.setdefault(path[-1], []).append(owner)
    return "; ".join(f"{key} of {', '.join(names)}" for key, names in owners.items())


def _texts(node: object, path: Path) -> Iterator[tuple[Path, object]]:
    if isinstance(node, Mapping):
        for key, value in node.items():
            yield from _texts(value, (*path, key))
    else:
        yield path, node
