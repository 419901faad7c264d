"""What a rig has and nothing reads, what no document foretells, and readings that are asked for and not taken."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rigproof.documents import Rig
from rigproof.instruments import Reads
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


def fewer_readings(rig: Rig, rehearsed: Sequence[Rehearsed]) -> list[str]:
    """One sentence for each step that asks, in words of the procedure, for more readings than an instrument gives.

    What a source says of its load stands still, and a temperature is read beside a strain as often as the step will.
    """
    sources = {source.channel for source in rig.sources.values()}
    found: list[str] = []
    for step in rehearsed:
        asked = getattr(step.step, "readings", None) if "readings" in step.step.model_fields_set else None
        read = dict.fromkeys(name for block in step.record.all_blocks() for name in block.values)
        judged = [
            c for c in map(rig.channels.__getitem__, read) if c.name not in sources and c.measures != "temperature"
        ]
        for name in dict.fromkeys(channel.instrument for channel in judged):
            most = _most(rig, name)
            if isinstance(asked, int) and most is not None and most < asked:
                found.append(
                    f"Step {step.number} {step.step.kind}: `readings: {asked}`, and {name} gives {most} at most: "
                    f"{'that one counts, and shows no scatter' if most == 1 else 'those count'}. Write a higher "
                    f"`readings:` under the settings of {name}, or leave it out of the step."
                )
    return found


def _most(rig: Rig, instrument: str) -> int | None:
    """How many readings of an input it gives; None: any number."""
    about = rig.instruments[instrument]
    return about.driver.most_readings(about.settings) if issubclass(about.driver, Reads) else None


def _words(fields: Mapping[str, object]) -> Iterator[str]:
    """Every key and text of an entry of the journal, the names of channels among them."""
    for key, value in fields.items():
        yield key
        if isinstance(value, str):
            yield value
        elif isinstance(value, Mapping):
            yield from _words(value)
