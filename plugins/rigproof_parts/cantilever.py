"""A strip clamped at one end and loaded at the other."""

from __future__ import annotations

from typing import ClassVar

from pydantic import ValidationInfo, field_validator

from rigproof.errors import NumberError
from rigproof.models import Numbers, PartModel
from rigproof.quantities import Uncertain, WrittenError, show
from rigproof.uncertainty import Input
from rigproof_parts.cautions import UNDER_FORCE, against_yield
from rigproof_parts.material import Length, Material


class Cantilever(PartModel):
    """A strip of rectangular section; a force (N, positive downwards) across its free end. Elementary beam theory.

    `length` runs from the clamp to the line of the force, `gauge distance` from the clamp to the middle of the grid,
    which should stay about one width away from clamp and load (common practice, no source). The strip is taken as
    narrow, free to curve across; a plate much wider than thick strains down to 1 - nu² of this.
    """

    kind: ClassVar[str] = "cantilever"
    load: ClassVar[str] = "force"
    places: ClassVar[tuple[str, ...]] = ("top", "bottom")

    length: Length
    gauge_distance: Length
    width: Length
    thickness: Length
    material: Material

    @field_validator("gauge_distance")
    @classmethod
    def _between_clamp_and_load(cls, distance: Uncertain, info: ValidationInfo) -> Uncertain:
        length = info.data.get("length")
        if length is not None and distance.upper >= length.lower:
            raise WrittenError(
                f"{distance.text!r} is not below the length of {length.text!r}, limits included",
                "write the distance of the grid from the clamp",
            )
        return distance

    def inputs(self) -> tuple[Input, ...]:
        """Length, gauge distance, width, thickness (m), elastic modulus (Pa), Poisson's ratio."""
        return (
            self.length.input("length"),
            self.gauge_distance.input("gauge distance"),
            self.width.input("width"),
            self.thickness.input("thickness"),
            *self.material.inputs()[:2],
        )

    def strain(self, load: Numbers, place: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        """Strain along and across a gauge in the strip's long direction under `load` (N): ±6 P (L - x)/(E b h²)."""
        if place not in self.places:
            raise NumberError(f"place = {place!r}: a cantilever has {' and '.join(self.places)}")
        length, distance, width, thickness, modulus, poisson = inputs
        along = 6 * load * (length - distance) / (modulus * width * thickness**2)
        along = along if place == "top" else -along
        return along, -poisson * along

    def yield_load(self) -> float:
        """Force (N) at which the skin at the clamp starts to yield, from nominal values: s b h²/(6 L)."""
        strength = self.material.yield_strength.value
        return strength * self.width.value * self.thickness.value**2 / (6 * self.length.value)

    def deflection_m(self, load: float) -> float:
        """How far the loaded end sinks (m) under `load` (N), from nominal values: 4 P L³/(E b h³)."""
        slender = (self.length.value / self.thickness.value) ** 3
        return 4 * load * slender / (self.material.elastic_modulus.value * self.width.value)

    def cautions(self, load: float) -> tuple[str, ...]:
        """What people must mind at `load` (N)."""
        sinks = self.deflection_m(load)
        share = abs(sinks) / self.length.value
        bent = f"The end sinks by {show(sinks, 'length', 3)}, {share:.1%} of the length"
        bent += ": beam theory for small deflections does not hold." if share > 0.1 else "."
        return (against_yield(load, self.yield_load(), self.load), bent, *UNDER_FORCE)
