"""Four active gauges in a Wheatstone bridge."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from rigproof.models import Numbers
from rigproof_strain import shunt
from rigproof_strain.arms import ArmsBridge
from rigproof_strain.packet import Whole


class FullBridge(ArmsBridge):
    """Four active gauges: arms 1 and 3 strain alike, arms 2 and 4 alike.

    `arrangement: bending`: +e, -e, +e, -e (a beam with two gauges on each face). Exactly linear.
    `arrangement: along and across`: +e, -nu e, +e, -nu e in a uniaxial stress field (a column).

    Four wires: the output is counted from the voltage at the instrument's excitation terminals, so that both
    excitation leads act as if each arm had 2 RL in series. Six wires: the output is counted from the voltage
    sensed at the bridge, and the leads drop out.
    """

    kind: ClassVar[str] = "full bridge"
    halves: ClassVar[int] = 2

    wires: Annotated[Literal[4, 6], Whole]

    def shunt_reading(self, shunt_ohm: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Change of output (V/V) when `shunt_ohm` is closed at the instrument across arm 1, from the output `zero`.

        The relay joins the resistor between the excitation terminal and the signal terminal, so it lies across arm 1,
        the excitation lead and the signal lead. With v = 1/2 + zero/2, the share of arm 1, the bridge behind the
        signal terminal is Rg (1 - v) + RL, and the excitation lead adds RL (1 - v) to what the resistor sees. Exact for
        a balanced bridge; a start unbalance is taken to lie in both halves alike (else wrong by |zero| of the step).
        """
        gauge_ohm, _factor, _kt, lead_ohm = inputs[:4]
        share = 0.5 + zero / 2
        behind_signal_ohm = (1 - share) * gauge_ohm + lead_ohm
        whole = shunt.output_change(share, behind_signal_ohm, shunt_ohm + (1 - share) * lead_ohm)
        # Six wires hold the corners, not the terminals, at the excitation: the terminals stand higher.
        return whole if self.wires == 4 else whole * (1 + 2 * lead_ohm / gauge_ohm)

    def _in_arm(self, lead_ohm: Numbers) -> Numbers:
        return 2 * lead_ohm if self.wires == 4 else 0.0 * lead_ohm
