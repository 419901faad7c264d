"""A round shaft under torque."""

from __future__ import annotations

import math
from typing import ClassVar

from pydantic import ValidationInfo, field_validator

from rigproof.errors import NumberError
from rigproof.models import Fact, Numbers, PartModel
from rigproof.quantities import Uncertain
from rigproof.uncertainty import Input
from rigproof_parts.cautions import UNDER_TORQUE, against_yield
from rigproof_parts.material import Material
from rigproof_parts.sizes import SOLID, Bore, Length, bore_inside


class Shaft(PartModel):
    """A straight round shaft, solid or with a bore, under pure torque (N·m); Saint-Venant, exact away from the ends.

    Torque is positive when it turns the far end clockwise as seen from the near one: it stretches the fibres that run
    along a right-handed screw. A gauge at `+45°` lies along these, one at `-45°` along a left-handed screw. The gauges
    sit more than a diameter from ends, steps and keyways (common practice, no source). That a very thin tube may
    buckle is not looked at.
    """

    kind: ClassVar[str] = "shaft"
    load: ClassVar[str] = "torque"
    places: ClassVar[tuple[str, ...]] = ("+45°", "-45°")

    diameter: Length
    """Outside diameter."""
    bore: Bore = SOLID
    """Inside diameter; left out, the shaft is solid."""
    material: Material
    """A name of the data, or a mapping with the values of the certificate."""

    @field_validator("bore")
    @classmethod
    def _smaller_than_the_shaft(cls, bore: Uncertain, info: ValidationInfo) -> Uncertain:
        return bore_inside(bore, info.data.get("diameter"))

    def expansion(self) -> Input:
        """Linear thermal expansion of the material (1/K)."""
        return self.material.expansion.input("expansion")

    def inputs(self) -> tuple[Input, ...]:
        """Diameter, bore (m), elastic modulus (Pa), Poisson's ratio."""
        return self.diameter.input("diameter"), self.bore.input("bore"), *self.material.elastic()

    def strain(self, load: Numbers, place: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        """Strain along and across a gauge at `place` under `load` (N·m): ± tau/2G, G = E/(2 (1 + nu))."""
        if place not in self.places:
            raise NumberError(f"place = {place!r}: a shaft has {' and '.join(self.places)}; write one of them")
        diameter, bore, modulus, poisson = inputs
        along = self._shear(load, diameter, bore) * (1 + poisson) / modulus
        along = along if place == "+45°" else -along
        return along, -along

    def yield_load(self) -> float:
        """Torque (N·m) at which the skin starts to yield by von Mises, from nominal values: tau = s/sqrt(3)."""
        per_load = float(self._shear(1.0, self.diameter.value, self.bore.value))
        return self.material.yield_strength.value / (math.sqrt(3) * per_load)

    def formulas(self) -> tuple[str, ...]:
        """Pure torsion."""
        return (
            "Expected strain: pure torsion of a round shaft (Saint-Venant), tau/2G at 45° (textbooks, from memory).",
            "First yield: von Mises at the skin, tau = s/sqrt(3), nominal values.",
        )

    def facts(self, load: float) -> tuple[Fact, ...]:
        """Yield, and the twist at `load` (N·m)."""
        modulus, poisson = (item.value for item in self.material.elastic())
        shear = float(self._shear(load, self.diameter.value, self.bore.value)) * 2 * (1 + poisson) / modulus
        twist = Fact(
            "twist of one metre", shear / (self.diameter.value / 2), "angle", "shear strain of the skin/radius"
        )
        return (*super().facts(load), twist)

    def cautions(self, load: float) -> tuple[str, ...]:
        """What people must mind at `load` (N·m)."""
        return (against_yield(load, self.yield_load(), self.load), *UNDER_TORQUE)

    def _shear(self, load: Numbers, diameter: Numbers, bore: Numbers) -> Numbers:
        """Shear stress (Pa) of the skin: 16 T D/(pi (D⁴ - d⁴))."""
        return 16 * load * diameter / (math.pi * (diameter**4 - bore**4))
