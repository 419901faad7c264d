"""A round column under axial force, the body of many force cells."""

from __future__ import annotations

import math
from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, ValidationInfo, field_validator

from rigproof.errors import NumberError
from rigproof.models import Numbers, PartModel
from rigproof.quantities import Uncertain, WrittenError, parse_uncertain, uncertain
from rigproof.uncertainty import Input
from rigproof_parts.cautions import UNDER_FORCE, against_yield
from rigproof_parts.material import Length, Material


def _not_negative(bore: Uncertain) -> Uncertain:
    if bore.lower < 0:
        raise WrittenError(f"{bore.text!r} reaches below 0", "write the inside diameter, or leave it out if solid")
    return bore


class Column(PartModel):
    """A straight bar, solid or with a bore, under a force (N) along its axis, counted positive as `loaded in` says.

    Uniform stress: the gauges sit more than a diameter from the ends (common practice, no source). A force off the
    axis by e adds 8 e/d of the strain on one side of a solid bar and takes it on the other: use gauges all round, in
    one bridge. Buckling is not looked at.
    """

    kind: ClassVar[str] = "column"
    load: ClassVar[str] = "force"
    places: ClassVar[tuple[str, ...]] = ("axial", "around")

    diameter: Length
    bore: Annotated[Uncertain, uncertain("length"), AfterValidator(_not_negative)] = parse_uncertain("0 mm", "length")
    loaded_in: Literal["compression", "tension"]
    material: Material

    @field_validator("bore")
    @classmethod
    def _smaller_than_the_bar(cls, bore: Uncertain, info: ValidationInfo) -> Uncertain:
        diameter = info.data.get("diameter")
        if diameter is not None and bore.upper >= diameter.lower:
            raise WrittenError(
                f"{bore.text!r} is not below the diameter of {diameter.text!r}, limits included",
                "write the inside diameter",
            )
        return bore

    def inputs(self) -> tuple[Input, ...]:
        """Diameter, bore (m), elastic modulus (Pa), Poisson's ratio."""
        return self.diameter.input("diameter"), self.bore.input("bore"), *self.material.inputs()[:2]

    def strain(self, load: Numbers, place: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        """Strain along and across a gauge at `place` under `load` (N): P/(A E) along the axis, -nu of it around."""
        if place not in self.places:
            raise NumberError(f"place = {place!r}: a column has {' and '.join(self.places)}")
        diameter, bore, modulus, poisson = inputs
        axial = load / (math.pi / 4 * (diameter**2 - bore**2) * modulus)
        axial = axial if self.loaded_in == "tension" else -axial
        around = -poisson * axial
        return (axial, around) if place == "axial" else (around, axial)

    def yield_load(self) -> float:
        """Force (N) at which the section starts to yield, from nominal values."""
        return self.material.yield_strength.value * math.pi / 4 * (self.diameter.value**2 - self.bore.value**2)

    def cautions(self, load: float) -> tuple[str, ...]:
        """What people must mind at `load` (N)."""
        return (against_yield(load, self.yield_load(), self.load), *UNDER_FORCE)
