"""Two active gauges in a Wheatstone bridge."""

from __future__ import annotations

from typing import ClassVar

from rigproof.models import Numbers
from rigproof_strain import shunt
from rigproof_strain.arms import ArmsBridge


class HalfBridge(ArmsBridge):
    """Two active gauges.

    `arrangement: bending`: gauges in arms 1 and 2 that strain by +e and -e; three leads: one in series with
    each gauge, the third to the signal terminal. Exactly linear.
    `arrangement: along and across`: gauges in arms 1 and 2, the second turned by 90 degrees, in a field of uniaxial
    stress, so that it strains by -nu e; leads as above.
    """

    kind: ClassVar[str] = "half bridge"
    halves: ClassVar[int] = 1

    def shunt_reading(self, shunt_ohm: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Change of output (V/V) when `shunt_ohm` is closed at the instrument across arm 1, from `zero`; exact.

        The relay joins the resistor between the excitation terminal and the signal terminal, as for three wires of a
        quarter bridge: across gauge, its lead and the signal lead.
        """
        gauge_ohm, _factor, _kt, lead_ohm = inputs[:4]
        share = 0.5 + zero
        return shunt.output_change(share, (1 - share) * (gauge_ohm + lead_ohm) + lead_ohm, shunt_ohm)

    def _in_arm(self, lead_ohm: Numbers) -> Numbers:
        return lead_ohm
