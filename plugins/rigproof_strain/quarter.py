"""One active gauge in a Wheatstone bridge, on two or three wires."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from rigproof.models import BridgeModel, Numbers
from rigproof.uncertainty import Input
from rigproof_strain import bridge, leads, shunt, transverse
from rigproof_strain.packet import Lead, Whole, packet_inputs

if TYPE_CHECKING:
    from rigproof.documents.rig import Gauge


class QuarterBridge(BridgeModel):
    """One active gauge; completion and the other half are inside the instrument.

    Two wires: both conductors lie in series with the gauge in its arm; the signal is taken at the instrument.
    Three wires: the first conductor lies in series with the gauge in its arm, the second in series with the completion
    resistor in the other arm, the third joins the gauge to the signal terminal and carries no current while reading.

    Strain is counted from the state at `zero`: it is (dR/R)/GF with R the gauge's resistance in that state.
    """

    kind: ClassVar[str] = "quarter bridge"

    wires: Annotated[Literal[2, 3], Whole]
    lead: Lead

    def inputs(self, gauges: Sequence[Gauge]) -> tuple[Input, ...]:
        """Gauge resistance (Ω), gauge factor, transverse sensitivity, lead (Ω, one conductor)."""
        return packet_inputs(gauges, self.lead)

    def reduce(self, reading: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Strain between the outputs `zero` and `reading` (V/V), exact; leads are taken out.

        The arm shows Rg/(Rg + 2 RL) of dR/R on two wires, Rg/(Rg + RL) on three, whatever the completion.
        """
        gauge_ohm, factor, _kt, lead_ohm = inputs
        sensitivity = factor * leads.desensitisation(gauge_ohm, self._in_arm(lead_ohm))
        return bridge.strain_of(bridge.arm_change(reading, zero), sensitivity, opposing=0.0)

    def shunt_reading(self, shunt_ohm: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Change of output (V/V) when `shunt_ohm` is closed at the instrument, from the output `zero`; exact.

        The relay joins the resistor between the excitation terminal and the signal terminal. On two wires it lies
        across gauge and both conductors. On three wires its current flows back through the third conductor, so
        it lies across gauge, first and third conductor, and the signal terminal sees the drop in the third. From
        those terminals the bridge is a source behind R1 R2/(R1 + R2) (+ RL on three wires), R1 = Rg + conductors.
        """
        gauge_ohm, _factor, _kt, lead_ohm = inputs
        share = 0.5 + zero
        in_signal_ohm = lead_ohm if self.wires == 3 else 0.0
        source_ohm = (1 - share) * (gauge_ohm + self._in_arm(lead_ohm)) + in_signal_ohm
        return shunt.output_change(share, source_ohm, shunt_ohm)

    def apparent(self, along: Numbers, across: Numbers, *inputs: Numbers) -> Numbers:
        """Strain reported when the part strains by `along` and `across` the grid; see `transverse.reported`."""
        return transverse.reported(along, across, inputs[2])

    def _in_arm(self, lead_ohm: Numbers) -> Numbers:
        """Lead resistance in series with the gauge inside its arm."""
        return lead_ohm * (2.0 if self.wires == 2 else 1.0)
