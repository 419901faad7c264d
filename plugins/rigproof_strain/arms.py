"""What half and full bridges share: an arrangement of their gauges, and Poisson's ratio where it counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isclose
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import ValidationInfo, field_validator

from rigproof.quantities import Uncertain, WrittenError, uncertain
from rigproof.uncertainty import Input
from rigproof_strain.layouts import Layout
from rigproof_strain.strain_bridge import StrainBridge

if TYPE_CHECKING:
    from rigproof.documents.rig import Gauge
    from rigproof.models import PartModel


class ArmsBridge(StrainBridge):
    """A bridge with gauges in two or four arms. All gauges come from one packet."""

    layouts: ClassVar[Mapping[str, Layout]]

    arrangement: str
    """Which arms hold gauges, and how these strain."""
    poisson_ratio: Annotated[Uncertain | None, uncertain("number")] = None
    """Of the part, where a gauge lies across the strain of another."""

    @property
    def layout(self) -> Layout:
        """That of the arrangement."""
        return self.layouts[self.arrangement]

    @field_validator("poisson_ratio")
    @classmethod
    def _only_where_used(cls, ratio: Uncertain | None, info: ValidationInfo) -> Uncertain | None:
        arrangement = info.data.get("arrangement")
        layout = cls.layouts.get(arrangement) if arrangement else None
        if ratio is None:
            if layout is not None and layout.takes_poisson:
                raise WrittenError(
                    f"the arrangement {arrangement!r} needs the `poisson ratio`", "add the part's, such as 0.29 ± 0.01"
                )
            return None
        if layout is not None and not layout.takes_poisson:
            raise WrittenError(f"the arrangement {arrangement!r} does not use it", "leave it out")
        if not 0 < ratio.lower <= ratio.upper < 0.5:
            raise WrittenError(f"{ratio.text!r} is out of bounds", "it must lie between 0 and 0.5, limits included")
        return ratio

    def unsuited(self, part: PartModel, place: str) -> str:
        """Gauges that strain against the first one need such a place, and torsion needs pure shear."""
        arrangement = f"the arrangement {self.arrangement!r} takes a gauge"
        if any(arm.sign < 0 for arm in self.layout.arms if arm) and not part.has_opposite(place):
            return (
                f"{arrangement} that strains by as much as the one at {place!r} the other way, and no place on a "
                f"{part.kind} does: gauges that strain alike would cancel"
            )
        along, across = part.nominal_strain(place)
        if self.layout.shear and not isclose(along, -across, rel_tol=1e-6):
            return f"{arrangement} in pure shear, and at {place!r} a {part.kind} is not"
        return ""

    def inputs(self, gauges: Sequence[Gauge]) -> tuple[Input, ...]:
        """Gauge resistance (Ω), gauge factor, transverse sensitivity, lead (Ω), and Poisson's ratio where it counts."""
        poisson = () if self.poisson_ratio is None else (self.poisson_ratio.input("poisson ratio"),)
        return super().inputs(gauges) + poisson
