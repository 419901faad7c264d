"""What `rigproof new rig` could not know, and nobody has written since: a caution, and no run on real instruments."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from rigproof.documents import Rig
from rigproof.documents.faults import in_order
from rigproof.documents.load import RIG_FILE, fault_in
from rigproof.documents.reader import read_tree
from rigproof.documents.source import source_of
from rigproof.errors import DocumentError, Fault

FILL_IN = "fill in"  # stands where `rigproof new rig` cannot know a value
Path = tuple[str, ...]

# RFC 5737, 3 (from memory)
_EXAMPLES = re.compile(r"(?<![\d.])(?:192\.0\.2|198\.51\.100|203\.0\.113)\.\d{1,3}(?![\d.])")
_FORGOTTEN = "on the simulated rig: --simulated"


def still_to_write(rig: Rig) -> Iterator[str]:
    """The caution, where something is left open."""
    if left := _left(rig):
        yield f"Still to be written in {RIG_FILE}, where {FILL_IN!r} stands: {_listed(left)}."


def refuse_unwritten(rig: Rig) -> None:
    """Raise `DocumentError` at the first place of each kind: never described, or `--simulated` was forgotten."""
    if faults := [fault for fault in (_not_filled_in(rig), _at_examples(rig)) if fault]:
        raise DocumentError(in_order(faults))


def against_live(rig: Rig) -> Iterator[str]:
    """What keeps a rig from its instruments, though not from the simulated ones, in short."""
    if _left(rig):
        yield f"{FILL_IN!r} still stands in {RIG_FILE}"
    if found := [each for each in rig.instruments.values() if for_examples(each.resource)]:
        address, more = for_examples(found[0].resource), len(found) - 1
        yield f"{address}{f' and {more} more are addresses' if more else ' is an address'} for examples (RFC 5737)"


def for_examples(resource: str) -> str:
    """The address in a resource that belongs to documents alone, so that no instrument has it; "" for any other."""
    found = _EXAMPLES.search(resource)
    return found.group() if found else ""


def _not_filled_in(rig: Rig) -> Fault | None:
    left = _left(rig)
    if not left:
        return None
    what = f"{FILL_IN!r} still stands for {_listed(left)}, and this run would go to the instruments themselves"
    return fault_in(rig, left[0], what, f"write what they say of themselves, or leave such keys out; {_FORGOTTEN}")


def _at_examples(rig: Rig) -> Fault | None:
    found = [name for name, instrument in rig.instruments.items() if for_examples(instrument.resource)]
    if not found:
        return None
    first, *others = found
    what = (
        f"{for_examples(rig.instruments[first].resource)} is an address for examples (RFC 5737): nothing stands there"
    )
    what += f", and so with {', '.join(others)}" if others else ""
    return fault_in(rig, ("instruments", first, "resource"), what, f"write the instrument's own; {_FORGOTTEN}")


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
