"""Rosettes: channels whose gauges lie at one point of the part, and tell the whole state of strain there together."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

import numpy as np

from rigproof.documents.channels import Channel
from rigproof.documents.chosen import ByModel
from rigproof.documents.context import name_in
from rigproof.documents.named import Named
from rigproof.models import RosetteModel

if TYPE_CHECKING:
    from rigproof.documents.rig import RigDocument

Unfit = tuple[str, str, str]  # the key, what is wrong, remedy
Shared = Literal["gauge factor", "transverse sensitivity", "accuracy of reading"]
GAUGE_FACTOR: Shared = "gauge factor"
TRANSVERSE: Shared = "transverse sensitivity"
READING: Shared = "accuracy of reading"


class Rosette(Named):
    """Several gauges at one point. Each element is a channel of its own besides, and judged as one."""

    layout: Annotated[RosetteModel, ByModel("rosettes")]
    """How the elements lie to each other."""
    channels: tuple[Annotated[str, name_in("channels", "channel")], ...]
    """The channels of the elements, in the order of the layout."""
    shared: tuple[Shared, ...] = (GAUGE_FACTOR, TRANSVERSE)
    """What deviates alike in all elements, and therefore counts once in a budget: a foil and its lot (gauge factor,
    transverse sensitivity), an amplifier with one reference for all inputs (accuracy of reading). What is left out
    deviates in each element by itself."""

    def unfit(self, rig: RigDocument) -> Unfit | None:
        """What does not go together: channels, bridges, part, places and what the elements share."""
        about = [rig.channels[name] for name in self.channels]
        wanted = self.layout.elements
        if len(set(self.channels)) != wanted or len(about) != wanted:
            what = f"a {self.layout.kind} has {wanted} elements, each a channel of its own; here are {len(about)}"
            return "channels", what, f"name {wanted} different channels"
        other = [name for name, channel in zip(self.channels, about, strict=True) if channel.measures != "strain"]
        if other:
            what = f"{other[0]!r} measures {rig.channels[other[0]].measures}"
            return f"channels[{self.channels.index(other[0]) + 1}]", what, "name channels that measure strain"
        return self._off_the_part(rig, about) or self._unlike(rig, about)

    def _off_the_part(self, rig: RigDocument, about: list[Channel]) -> Unfit | None:
        """At a point all pairs of strains at right angles have one sum: each element with its across, and the state."""
        if rig.part.elastic() is None:
            what = f"the part states no stress at a free surface for its {rig.part.kind}"
            return "layout", what, "take a part model with a material, and gauges outside"
        strains = [rig.part.nominal_strain(rig.gauges[channel.gauge or ""].at) for channel in about]
        along = [strain for strain, _ in strains]
        state = self.layout.state(along)
        sums = [one + other for one, other in strains]
        if not np.allclose(sums, state.first(*along) + state.second(*along), rtol=1e-6, atol=0.0):
            places = ", ".join(repr(rig.gauges[channel.gauge or ""].at) for channel in about)
            what = f"gauges at {places} do not lie to each other as the elements of a {self.layout.kind}"
            return "channels", what, "name the channels in the order of the layout, or correct `at` of their gauges"
        return None

    def _unlike(self, rig: RigDocument, about: list[Channel]) -> Unfit | None:
        for what in self.shared:
            first, *others = (_stated(rig, channel, what) for channel in about)
            if any(other != first for other in others):
                said = f"the elements share {what}, and their channels state different ones"
                return "shared", said, f"state it alike for all, or write `shared` without {what!r}"
        return None


def _stated(rig: RigDocument, channel: Channel, what: Shared) -> object:
    """What is written of it, so that two may be compared."""
    gauge = rig.gauges[channel.gauge or ""]
    if what == READING:
        return channel.accuracy.of_reading, channel.correction.of_reading
    packet = gauge.gauge_factor if what == GAUGE_FACTOR else gauge.transverse_sensitivity
    return packet.value, packet.u, packet.dof
