"""What half and full bridges share: how the other gauges strain when the first strains by e."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from pydantic import ValidationInfo, field_validator

from rigproof.models import BridgeModel, Numbers
from rigproof.quantities import Uncertain, WrittenError, uncertain
from rigproof.uncertainty import Input
from rigproof_strain import bridge, leads, transverse
from rigproof_strain.packet import Lead, packet_inputs

if TYPE_CHECKING:
    from rigproof.documents.rig import Gauge


ACROSS = "along and across"
Arrangement = Literal["bending", "along and across"]


class ArmsBridge(BridgeModel):
    """A bridge with gauges in both arms of one half, or of two like halves.

    Strain is that of the gauge in arm 1, counted from the state at `zero`. All gauges come from one packet.
    """

    halves: ClassVar[int]

    arrangement: Arrangement
    lead: Lead
    poisson_ratio: Annotated[Uncertain | None, uncertain("number")] = None

    @field_validator("poisson_ratio")
    @classmethod
    def _only_where_used(cls, ratio: Uncertain | None, info: ValidationInfo) -> Uncertain | None:
        arrangement = info.data.get("arrangement")
        if ratio is None:
            if arrangement == ACROSS:
                raise WrittenError(
                    f"the arrangement {ACROSS!r} needs the `poisson ratio`", "add the part's, such as 0.29 ± 0.01"
                )
            return None
        if arrangement not in (ACROSS, None):
            raise WrittenError(f"the arrangement {arrangement!r} does not use it", "leave it out")
        if not 0 < ratio.lower <= ratio.upper < 0.5:
            raise WrittenError(f"{ratio.text!r} is out of bounds", "it must lie between 0 and 0.5, limits included")
        return ratio

    def inputs(self, gauges: Sequence[Gauge]) -> tuple[Input, ...]:
        """Gauge resistance (Ω), gauge factor, transverse sensitivity, lead (Ω), and Poisson's ratio where it counts."""
        poisson = () if self.poisson_ratio is None else (self.poisson_ratio.input("poisson ratio"),)
        return packet_inputs(gauges, self.lead) + poisson

    def reduce(self, reading: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:
        """Strain of the gauge in arm 1 between the outputs `zero` and `reading` (V/V); leads are taken out."""
        change = bridge.arm_change(reading, zero, self.halves)
        return bridge.strain_of(change, self._sensitivity(*inputs), self._opposing(*inputs))

    def apparent(self, along: Numbers, across: Numbers, *inputs: Numbers) -> Numbers:
        """Strain reported when the part strains by `along` and `across` the grid of the gauge in arm 1.

        The output of the arms as each gauge answers to both strains, reduced again.
        """
        kt = inputs[2]
        first = transverse.reported(along, across, kt)
        second = -first if self.arrangement == "bending" else transverse.reported(across, along, kt)
        sensitivity = self._sensitivity(*inputs)
        change = bridge.change_of(first, second, sensitivity)
        return bridge.strain_of(change, sensitivity, self._opposing(*inputs))

    @abstractmethod
    def _in_arm(self, lead_ohm: Numbers) -> Numbers:
        """Lead resistance that acts in series with each gauge."""

    def _sensitivity(self, *inputs: Numbers) -> Numbers:
        """Relative resistance change of an arm, leads included, per strain of its gauge."""
        gauge_ohm, factor, _kt, lead_ohm = inputs[:4]
        return factor * leads.desensitisation(gauge_ohm, self._in_arm(lead_ohm))

    def _opposing(self, *inputs: Numbers) -> Numbers:
        """Strain of arm 2 over strain of arm 1, sign turned."""
        return 1.0 if self.poisson_ratio is None else inputs[4]
