"""One active gauge in a Wheatstone bridge, on two or three wires."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from rigproof.models import Numbers
from rigproof_strain import transverse
from rigproof_strain.layouts import QUARTER, Layout
from rigproof_strain.packet import Whole
from rigproof_strain.strain_bridge import StrainBridge


class QuarterBridge(StrainBridge):
    """One active gauge; completion and the other half are inside the instrument.

    Two wires: both conductors lie in series with the gauge in its arm; the signal is taken at the instrument.
    Three wires: the first conductor lies in series with the gauge in its arm, the second in series with the completion
    resistor in the other arm, the third joins the gauge to the signal terminal and carries no current while reading.
    The arm shows Rg/(Rg + 2 RL) of dR/R on two wires, Rg/(Rg + RL) on three, whatever the completion.

    The relay at the instrument joins the shunt between the excitation terminal and the signal terminal. On two wires it
    lies across gauge and both conductors; on three wires its current flows back through the third conductor. Exact.
    """

    kind: ClassVar[str] = "quarter bridge"

    wires: Annotated[Literal[2, 3], Whole]
    """Conductors to the gauge: two in its arm, or three."""

    @property
    def layout(self) -> Layout:
        """One gauge in arm 1."""
        return QUARTER

    def apparent(self, along: Numbers, across: Numbers, *inputs: Numbers) -> Numbers:
        """Strain reported when the part strains by `along` and `across` the grid; see `transverse.reported`."""
        return transverse.reported(along, across, inputs[2])

    def _in_arm(self, lead_ohm: Numbers) -> Numbers:
        return lead_ohm * (2.0 if self.wires == 2 else 1.0)

    def _in_signal(self, lead_ohm: Numbers) -> Numbers:
        return lead_ohm * (1.0 if self.wires == 3 else 0.0)

    def _beside_completion(self, lead_ohm: Numbers) -> Numbers:
        return self._in_signal(lead_ohm)
