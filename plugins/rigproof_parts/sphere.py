"""A spherical vessel under internal pressure, thick-walled theory."""

from __future__ import annotations

from typing import ClassVar

from rigproof.errors import NumberError
from rigproof.models import Numbers
from rigproof_parts.vessel import Vessel


class Sphere(Vessel):
    """A sphere away from nozzles and supports: the strain is the same in every direction of its surface.

    Lame (Timoshenko and Goodier, Theory of Elasticity, 3rd ed., art. 136; from memory): with radii a inside, b outside
    and A = p a³/(b³ - a³) the stresses are A(1 + b³/(2 r³)), tangential, and A(1 - b³/r³), radial.
    """

    kind: ClassVar[str] = "sphere"
    places: ClassVar[tuple[str, ...]] = ("surface",)

    def strain(self, load: Numbers, place: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        """Strain along and across a gauge on the gauge surface under `load` (Pa); both are equal."""
        if place not in self.places:
            raise NumberError(f"place = {place!r}: a sphere has only {self.places[0]}")
        tangential = self._strain(load, self.gauge_surface, *inputs)
        return tangential, tangential

    def yield_load(self) -> float:
        """Pressure (Pa) at which the bore starts to yield, from nominal values: von Mises stress A 3/2 (b/a)³."""
        outside, wall = (item.value for item in self.inputs()[:2])
        bore = outside - 2 * wall
        return self.material.yield_strength.value * 2 / 3 * (1 - (bore / outside) ** 3)

    def volume_strain(self, load: Numbers, *inputs: Numbers) -> Numbers:
        """Growth of the bore: three times the tangential strain there."""
        return 3 * self._strain(load, "inside", *inputs)

    def _strain(self, load: Numbers, surface: str, *inputs: Numbers) -> Numbers:
        """Tangential strain at a surface under `load`."""
        outside, wall, modulus, poisson = inputs[:4]
        bore = outside - 2 * wall
        a = load * bore**3 / (outside**3 - bore**3)
        lean: Numbers = 1.0 if surface == "outside" else (outside / bore) ** 3  # b³/r³
        return a * ((1 + lean / 2) * (1 - poisson) - poisson * (1 - lean)) / modulus
