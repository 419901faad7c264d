"""Channels that a rig has and nothing reads, and those of which nobody can say beforehand what they will."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rigproof.documents import Rig
from rigproof.verdict.watched import only_watched

from .rehearsal import Rehearsed


def unused(rig: Rig, rehearsed: Sequence[Rehearsed]) -> list[str]:
    """One sentence for the channels that no step reads, no interlock watches and no source is measured by.

    Nothing is said where a step could not be rehearsed whole: what it would have read nobody knows.
    """
    if any(step.trouble for step in rehearsed):
        return []
    used = {source.channel for source in rig.sources.values()}
    used.update(name for lock in rig.interlocks.values() for name in lock.channels)
    for step in rehearsed:
        for entry in step.record.entries:
            used.update(_words(entry.data))
    left = [name for name in rig.channels if name not in used]
    if not left:
        return []
    return [
        f"Nothing uses {', '.join(left)}: no step of this procedure reads it, no interlock watches it and no source is "
        "measured by it. Let a step read it, or leave it out of rig.yaml where no other procedure does either."
    ]


def unproved(rig: Rig, rehearsed: Sequence[Rehearsed]) -> list[str]:
    """One sentence for the channels that interlocks watch and no check rests on; nothing where a step is not known."""
    if any(step.trouble or step.unforeseen for step in rehearsed):
        return []
    left = only_watched(rig, [foreseen.check for step in rehearsed for foreseen in step.checks])
    if not left:
        return []
    return [
        f"No check of this procedure rests on {', '.join(left)}, watched by interlocks alone: nobody will have seen "
        "that it reads right. Have a step judge it, or see to that by other means."
    ]


def unforeseen(rehearsed: Sequence[Rehearsed]) -> list[str]:
    """One sentence for each step with checks that only a run can tell."""
    return [
        f"Step {step.number} {step.step.kind}: what {', '.join(step.unforeseen)} reads under load no document says, "
        "and on paper it stands at 0; whether a sound rig passes its checks the run alone will tell."
        for step in rehearsed
        if step.unforeseen
    ]


def _words(fields: Mapping[str, object]) -> Iterator[str]:
    """Every key and text of an entry of the journal, the names of channels among them."""
    for key, value in fields.items():
        yield key
        if isinstance(value, str):
            yield value
        elif isinstance(value, Mapping):
            yield from _words(value)
