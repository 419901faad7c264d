"""What a rig document says, apart from how it is written: to tell whether two of them describe the same rig."""

from __future__ import annotations

import json
from collections.abc import Mapping
from hashlib import sha256

from rigproof.documents.reader import read_tree
from rigproof.documents.rig import Rig
from rigproof.documents.source import Source


def content_of(rig: Rig, resources: Mapping[str, str] | None = None) -> dict[str, str]:
    """SHA-256 of what stands at each place of rig.yaml, named by one or two keys such as `instruments.pump`.

    Comments, spacing and the order of keys do not count.
    `resources`: what an instrument's `resource:` is taken for, where it is another name of the same thing.
    """
    root, _ = read_tree(Source(rig.file, rig.text))
    assert root is not None, "the rig was read from it"
    written = root.plain()
    for instrument in written["instruments"].values():
        instrument["resource"] = (resources or {}).get(instrument["resource"], instrument["resource"])
    places = {
        f"{key}.{name}" if name else key: part
        for key, each in written.items()
        for name, part in (each.items() if isinstance(each, dict) else [("", each)])
    }
    return {place: sha256(json.dumps(each, sort_keys=True).encode()).hexdigest() for place, each in places.items()}
