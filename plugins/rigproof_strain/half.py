"""Two active gauges in a Wheatstone bridge."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Literal

from rigproof.models import Numbers
from rigproof_strain.arms import ArmsBridge
from rigproof_strain.layouts import HALVES, Layout


class HalfBridge(ArmsBridge):
    """Two active gauges.

    `arrangement: bending`: gauges in arms 1 and 2 that strain by +e and -e. Exactly linear.
    `arrangement: along and across`: gauges in arms 1 and 2, the second turned by 90 degrees, in a field of uniaxial
    stress, so that it strains by -nu e.
    Both on three leads: one in series with each gauge, the third to the signal terminal.

    `arrangement: opposite arms`: gauges in arms 1 and 3 that both strain by +e (mean of two faces: bending drops out),
    completed by the instrument in arms 2 and 4. Two leads to each gauge, both inside its arm: as with every two-wire
    gauge, their temperature reads as strain.
    """

    kind: ClassVar[str] = "half bridge"
    layouts: ClassVar[Mapping[str, Layout]] = HALVES

    arrangement: Literal["bending", "along and across", "opposite arms"]
    """Which arms hold gauges, and how these strain."""

    def _in_arm(self, lead_ohm: Numbers) -> Numbers:
        return lead_ohm * (2.0 if self.layout.halves == 2 else 1.0)

    def _in_signal(self, lead_ohm: Numbers) -> Numbers:
        return lead_ohm * (0.0 if self.layout.halves == 2 else 1.0)
