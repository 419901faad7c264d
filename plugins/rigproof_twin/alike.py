"""What deviates alike in all elements of a rosette (`shared` in rig.yaml) is drawn once for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigproof.documents.rosettes import READING, Shared

if TYPE_CHECKING:
    from rigproof.documents.rig import Channel, Rig


def owner(rig: Rig, channel: Channel, what: Shared) -> str:
    """Whose deviation it is: that of the rosette whose elements share it, else of the channel's gauge or its own."""
    for name, rosette in rig.rosettes.items():
        if channel.name in rosette.channels and what in rosette.shared:
            return f"rosette {name}"
    return channel.name if what == READING else channel.gauge or channel.name
