"""Channels that interlocks watch and no check rests on: nobody has shown that they read right."""

from __future__ import annotations

from collections.abc import Iterable

from rigproof.documents import Rig
from rigproof.steps.arming import Arming
from rigproof.steps.base import ALL_STRAIN, strain_channels

from .record import Check


def only_watched(rig: Rig, checks: Iterable[Check]) -> list[str]:
    """Their names, in the order of rig.yaml.

    Strain is left out, for the other entries name its channels, and so is the load, which the response to load proves.
    """
    known = {*strain_channels(rig, (ALL_STRAIN,)), *(source.channel for source in rig.sources.values())}
    for check in checks:
        if check.step_kind != Arming.kind or check.subject not in rig.interlocks:  # named as a channel, perhaps
            known.add(check.subject)
        known.update(name for name in rig.channels for line in check.budget if f"channels.{name}." in line.source)
    watched = {name for lock in rig.interlocks.values() for name in lock.channels} - known
    return [name for name in rig.channels if name in watched]
