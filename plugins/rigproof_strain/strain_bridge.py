"""What every strain bridge does: readings to strain, what transverse sensitivity adds, what a shunt must give."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar, Literal

from rigproof.errors import NumberError
from rigproof.models import BridgeModel, Fact, Installation, Numbers
from rigproof.uncertainty import Input
from rigproof_strain import bridge, checks, leads, shunt, thermal, transverse
from rigproof_strain.installed import cautions_of, facts_of
from rigproof_strain.layouts import Layout
from rigproof_strain.packet import Lead, packet_inputs

if TYPE_CHECKING:
    from rigproof.documents.rig import Gauge

At = Literal["gauge", "instrument"]


class StrainBridge(BridgeModel):
    """A Wheatstone bridge with gauges of one packet in some of its arms, numbered round the ring (see `layouts`).

    Strain is that of the gauge in arm 1, counted from the state at `zero`: (dR/R)/GF with R the gauge's resistance in
    that state.
    """

    shunted: ClassVar[str] = "the excitation and the signal terminal of arm 1, at the instrument: leads lie between"

    lead: Lead
    """Resistance of one conductor between gauge and instrument."""

    @property
    @abstractmethod
    def layout(self) -> Layout:
        """Which arms hold gauges, and how they strain."""

    def inputs(self, gauges: Sequence[Gauge]) -> tuple[Input, ...]:
        """Gauge resistance (Ω), gauge factor, transverse sensitivity, lead (Ω, one conductor)."""
        return packet_inputs(gauges, self.lead)

    def reduce(self, reading: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Strain of arm 1 between the outputs `zero` and `reading` (V/V), exact; leads are taken out."""
        layout, sensitivity = self.layout, self._sensitivity(*inputs)
        if layout.mixed:
            return bridge.strain_of_faces(reading, zero, sensitivity, inputs[4])
        change = bridge.arm_change(reading, zero, layout.halves)
        return bridge.strain_of(change, sensitivity, layout.opposing(inputs))

    def linear(self, reading: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """The same by the linear law 4 (r - r0)/(N GF), leads taken out: what a plain indicator shows."""
        factor = self.layout.halves * (1 + self.layout.opposing(inputs))
        return bridge.linear(reading, zero, self._sensitivity(*inputs), factor)

    def difference(self, reading: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Strain that the linear law adds to the true one: `linear` - `reduce`.

        From balance it is -k/2 of the strain for a quarter bridge, -k(1 - nu)/2 along and across, 0 in bending and
        torsion, with k = GF e (trade.md 2.1).
        """
        return self.linear(reading, zero, *inputs) - self.reduce(reading, zero, *inputs)

    def apparent(self, along: Numbers, across: Numbers, *inputs: Numbers) -> Numbers:
        """Strain reported when the part strains by `along` and `across` the grid of the gauge in arm 1.

        The output of the arms as each gauge answers to both strains, reduced again.
        """
        sensitivity, kt = self._sensitivity(*inputs), inputs[2]
        straight = sensitivity * transverse.reported(along, across, kt)
        turned = sensitivity * transverse.reported(across, along, kt)
        changes = [arm.sign * (turned if arm.turned else straight) if arm else 0.0 for arm in self.layout.arms]
        return self.reduce(_imbalance(*changes), 0.0, *inputs)

    def thermal(self, part_per_k: Numbers, compensated_per_k: Numbers, rise_k: Numbers, *inputs: Numbers) -> Numbers:
        """Strain reported without load when part, grids and copper leads are `rise_k` warmer.

        Each arm changes by its grid and by the conductors in it; what adjacent arms share cancels.
        """
        gauge_ohm, kt, lead_ohm = inputs[0], inputs[2], inputs[3]
        of_grid = self._sensitivity(*inputs) * thermal.mismatch(part_per_k, compensated_per_k, rise_k, kt)
        per_ohm = leads.COPPER_PER_K * rise_k / (gauge_ohm + self._in_arm(lead_ohm))
        with_gauge = of_grid + self._in_arm(lead_ohm) * per_ohm
        completion = self._beside_completion(lead_ohm) * per_ohm
        arms = self.layout.arms
        changes = [with_gauge if arm else completion if arms[at ^ 1] else 0.0 for at, arm in enumerate(arms)]
        return self.reduce(_imbalance(*changes), 0.0, *inputs)

    def facts(self, installed: Installation) -> tuple[Fact, ...]:
        """Leads, temperature, heating, the linear law and insulation; see `installed`."""
        return facts_of(self, installed)

    def cautions(self, installed: Installation) -> tuple[str, ...]:
        """Too much power, drift that reads as strain, and what nobody stated."""
        return cautions_of(self, installed)

    def desensitisation(self, *inputs: Numbers) -> Numbers:
        """Share of a gauge's relative resistance change that its arm shows, leads in series with it."""
        return leads.desensitisation(inputs[0], self._in_arm(inputs[3]))

    def shunt_reading(self, shunt_ohm: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Change of output (V/V) when `shunt_ohm` is closed at the instrument across arm 1, from the output `zero`."""
        return self._across_terminals(shunt_ohm, zero, *inputs)

    def shunt_step(self, arm: int, at: At, shunt_ohm: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Change of output (V/V) when `shunt_ohm` is closed across `arm` (1 to 4), from the output `zero`.

        `at` the gauge: soldered to its tabs, so that every lead takes part as it does in a measurement. At the
        instrument: from terminal to terminal, leads between. Arms 2 and 4 read as tension, arms 1 and 3 as compression.
        The gauge resistance of the inputs is that of arm 1; of two halves with gauges each is taken to carry half of
        `zero`: where that is not so, the step is wrong by |zero| of it at most.

        Raises NumberError for an arm whose resistance the rig does not know, and for a completion resistor shunted at
        the gauge.
        """
        checks.positive("shunt_ohm", shunt_ohm, "give the resistor's value in Ω")
        arms = self.layout.arms if self.layout.halves == 2 else self.layout.arms[:2]
        if not 1 <= arm <= len(arms):
            known = ", ".join(str(n) for n in range(1, len(arms) + 1))
            raise NumberError(f"arm={arm}: a {self.kind} knows the resistance of its arms {known}; name one of them")
        # Seen from arm 2 or 4 the bridge is the same bridge with its output turned over.
        turn = 1.0 if arm in (1, 3) else -1.0
        if arms[arm - 1] is None:
            if at == "gauge":
                raise NumberError(f"arm={arm}: at={at!r}, but it holds no gauge; say 'instrument'")
            return turn * self._across_completion(shunt_ohm, turn * zero, *inputs)
        across = self._across_gauge if at == "gauge" else self._across_terminals
        gauge_ohm = inputs[0] if turn > 0 else self._neighbour_ohm(zero, *inputs)
        return turn * across(shunt_ohm, turn * zero, gauge_ohm, *inputs[1:])

    def _neighbour_ohm(self, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Resistance of the gauge in arm 2, as the start output says when that in arm 1 is `inputs[0]`."""
        start, in_arm_ohm = zero / self.layout.halves, self._in_arm(inputs[3])
        return (inputs[0] + in_arm_ohm) * (0.5 - start) / (0.5 + start) - in_arm_ohm

    def _across_gauge(self, shunt_ohm: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Step of arm 1 with the resistor at the gauge: Rg falls by Rg²/(Rg + Rs), the leads of the arm stay."""
        gauge_ohm = inputs[0]
        change = -(gauge_ohm**2) / ((gauge_ohm + shunt_ohm) * (gauge_ohm + self._in_arm(inputs[3])))
        return bridge.step(change, zero / self.layout.halves)

    def _across_terminals(self, shunt_ohm: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Step of arm 1 with the resistor between the excitation and the signal terminal.

        From those terminals the bridge is a source behind R1 R2/(R1 + R2), R1 = Rg + conductors; a third conductor
        lies between its corner and the signal terminal, which sees the drop in it.
        """
        gauge_ohm, lead_ohm = inputs[0], inputs[3]
        share = 0.5 + zero / self.layout.halves
        source_ohm = (1 - share) * (gauge_ohm + self._in_arm(lead_ohm)) + self._in_signal(lead_ohm)
        return shunt.output_change(share, source_ohm, shunt_ohm)

    def _across_completion(self, shunt_ohm: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Step, seen from its own arm, of a resistor directly across a completion resistor.

        The arm's resistance is what the start output says of it, the gauge's arm being known.
        """
        start = zero / self.layout.halves
        whole_ohm = (inputs[0] + self._in_arm(inputs[3])) * (0.5 + start) / (0.5 - start)
        resistor_ohm = whole_ohm - self._beside_completion(inputs[3])
        return bridge.step(-(resistor_ohm**2) / ((resistor_ohm + shunt_ohm) * whole_ohm), start)

    @abstractmethod
    def _in_arm(self, lead_ohm: Numbers) -> Numbers:
        """Lead resistance that acts in series with each gauge."""

    def _in_signal(self, lead_ohm: Numbers) -> Numbers:
        """Lead resistance between the corner of arms 1 and 2 and its signal terminal."""
        return lead_ohm

    def _beside_completion(self, lead_ohm: Numbers) -> Numbers:
        """Lead resistance in series with a completion resistor."""
        return 0.0 * lead_ohm

    def _sensitivity(self, *inputs: Numbers) -> Numbers:
        """Relative resistance change of an arm, leads included, per strain of its gauge."""
        return inputs[1] * self.desensitisation(*inputs)


def _imbalance(x1: Numbers, x2: Numbers, x3: Numbers, x4: Numbers) -> Numbers:
    """Output (V/V) of a balanced bridge whose arms change by these shares of their resistance."""
    return bridge.step((x1 - x2) / (1 + x2), 0.0) + bridge.step((x3 - x4) / (1 + x4), 0.0)
