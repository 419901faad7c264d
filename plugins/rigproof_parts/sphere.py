"""A spherical vessel under internal pressure."""

from __future__ import annotations

from typing import ClassVar

from rigproof.errors import NumberError
from rigproof.models import Numbers
from rigproof_parts.vessel import Vessel


class Sphere(Vessel):
    """A sphere away from nozzles and supports: the strain is the same in every direction of its surface.

    Lame (Timoshenko and Goodier, Theory of Elasticity, 3rd ed., art. 136; from memory): with radii a inside, b outside
    and A = p a³/(b³ - a³) the stresses are A(1 + b³/(2 r³)), tangential, and A(1 - b³/r³), radial. Thin walls:
    A = p a/3t, the stresses 3 A/2 and 0 everywhere.
    """

    kind: ClassVar[str] = "sphere"
    places: ClassVar[tuple[str, ...]] = ("surface",)
    lame: ClassVar[str] = "Timoshenko and Goodier, Theory of Elasticity, 3rd ed., art. 136; from memory"

    def strain(self, load: Numbers, place: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        """Strain along and across a gauge on the gauge surface under `load` (Pa); both are equal."""
        if place not in self.places:
            raise NumberError(f"place = {place!r}: a sphere has only {self.places[0]}; write that")
        tangential = self._strain(load, self.gauge_surface, *inputs)
        return tangential, tangential

    def yield_load(self) -> float:
        """Pressure (Pa) at which the bore starts to yield, from nominal values, exact with either theory.

        The von Mises stress there is A 3/2 (b/a)³.
        """
        bore = self.outside_diameter.value - 2 * self.wall.value
        return self.material.yield_strength.value * 2 / 3 * (1 - (bore / self.outside_diameter.value) ** 3)

    def thin_overstates(self) -> float:
        """t/a + (t/a)²/3: p a/2t against 3/2 p a³/(b³ - a³)."""
        ratio = self.wall.value / (self.outside_diameter.value / 2 - self.wall.value)
        return ratio + ratio**2 / 3

    def volume_strain(self, load: Numbers, *inputs: Numbers) -> Numbers:
        """Growth of the bore: three times the tangential strain there."""
        return 3 * self._strain(load, "inside", *inputs)

    def _shape(self) -> str:
        return "sphere"

    def _strain(self, load: Numbers, surface: str, *inputs: Numbers) -> Numbers:
        """Tangential strain at a surface under `load`."""
        modulus, poisson = inputs[2:4]
        a, lean = self._a(load, *inputs), self._lean(surface, *inputs)
        return a * ((1 + lean / 2) * (1 - poisson) - poisson * (1 - lean)) / modulus

    def _a(self, load: Numbers, *inputs: Numbers) -> Numbers:
        """The A of the class."""
        outside, wall = inputs[:2]
        bore = outside - 2 * wall
        if self.theory == "thin":
            return inputs[6] * load * bore / (6 * wall)
        return load * bore**3 / (outside**3 - bore**3)

    def _lean(self, surface: str, *inputs: Numbers) -> Numbers:
        """b³/r³, which makes the stresses differ through the wall."""
        outside, wall = inputs[:2]
        return 1.0 if surface == "outside" or self.theory == "thin" else (outside / (outside - 2 * wall)) ** 3
