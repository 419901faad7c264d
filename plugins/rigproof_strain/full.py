"""Four active gauges in a Wheatstone bridge."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, ClassVar, Literal

from rigproof.models import Numbers
from rigproof_strain import shunt
from rigproof_strain.arms import ArmsBridge
from rigproof_strain.layouts import FULLS, Layout
from rigproof_strain.packet import Whole


class FullBridge(ArmsBridge):
    """Four active gauges, in the order of the arms 1 to 4.

    `arrangement: bending`: +e, -e, +e, -e (a beam with two gauges on each face). Exactly linear.
    `arrangement: along and across`: +e, -nu e, +e, -nu e in a uniaxial stress field (a column).
    `arrangement: torsion`: +e, -e, +e, -e on a shaft, grids at +45° and -45° to its axis; e is the strain at +45°, half
    the shear strain. Exactly linear; axial force and bending drop out.
    `arrangement: along and across in bending`: +e, -nu e on one face, +nu e, -e on the other.

    Four wires: the output is counted from the voltage at the instrument's excitation terminals, so that both
    excitation leads act as if each arm had 2 RL in series (along and across in bending, where the halves part, but
    for a share (k(1-nu)/2)² 2RL/Rg with k = GF e: 1e-7 at worst). Six wires: the output is counted from the voltage
    sensed at the bridge, and the leads drop out.
    """

    kind: ClassVar[str] = "full bridge"
    layouts: ClassVar[Mapping[str, Layout]] = FULLS

    arrangement: Literal["bending", "along and across", "torsion", "along and across in bending"]
    """How the gauges in the four arms strain."""
    wires: Annotated[Literal[4, 6], Whole]
    """Conductors to the bridge: four, or six with the excitation sensed at it."""

    def _across_terminals(self, shunt_ohm: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Step of arm 1 with the resistor at the instrument, from the output `zero`.

        The relay joins the resistor between the excitation terminal and the signal terminal, so it lies across arm 1,
        the excitation lead and the signal lead. With v = 1/2 + zero/2, the share of arm 1, the bridge behind the
        signal terminal is Rg (1 - v) + RL, and the excitation lead adds RL (1 - v) to what the resistor sees. Exact for
        a balanced bridge; a start unbalance is taken to lie in both halves alike (else wrong by |zero| of the step).
        """
        gauge_ohm, lead_ohm = inputs[0], inputs[3]
        share = 0.5 + zero / 2
        behind_signal_ohm = (1 - share) * gauge_ohm + self._in_signal(lead_ohm)
        whole = shunt.output_change(share, behind_signal_ohm, shunt_ohm + (1 - share) * lead_ohm)
        # Six wires hold the corners, not the terminals, at the excitation: the terminals stand higher.
        return whole if self.wires == 4 else whole * (1 + 2 * lead_ohm / gauge_ohm)

    def _across_gauge(self, shunt_ohm: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Step of arm 1 with the resistor at its gauge.

        On four wires the shunted bridge draws more through the excitation leads. With v the share of arm 1 and halves
        alike, the corners stand at Rb/(Rb + 2 RL) of the excitation, Rb = Rg/(2v), so that the output before is
        zero = (2v - 1)/(1 + 4 v RL/Rg). Exact for halves alike.
        """
        if self.wires == 6:
            return super()._across_gauge(shunt_ohm, zero, *inputs)
        gauge_ohm, outside_ohm = inputs[0], 2 * inputs[3]
        share = (1 + zero) / (2 * (1 - zero * outside_ohm / gauge_ohm))
        arm_ohm = gauge_ohm * shunt_ohm / (gauge_ohm + shunt_ohm)
        other_ohm = gauge_ohm * (1 - share) / share
        first, second = arm_ohm + other_ohm, gauge_ohm + other_ohm
        bridge_ohm = first * second / (first + second)
        return (arm_ohm / first - (1 - share)) * bridge_ohm / (bridge_ohm + outside_ohm) - zero

    def _in_arm(self, lead_ohm: Numbers) -> Numbers:
        return lead_ohm * (2.0 if self.wires == 4 else 0.0)
