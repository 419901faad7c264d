"""A straight pipe or cylindrical vessel under internal pressure."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np

from rigproof.errors import NumberError
from rigproof.models import Numbers
from rigproof_parts.vessel import Vessel


class Cylinder(Vessel):
    """A cylinder clear of its ends (see `clear_of_ends_m`).

    `ends: closed`: the wall carries the pressure on the closures. `open`: a piston or frame carries it, the wall is
    free to shorten. `fixed`: the pipe is held so that it cannot change its length (plane strain).

    Lame (Timoshenko and Goodier, Theory of Elasticity, 3rd ed., art. 28; from memory): with radii a inside, b outside
    and A = p a²/(b² - a²) the stresses are A (1 ± b²/r²), hoop and radial, and m A, axial: m = 1 closed,
    0 open, 2 nu fixed. Thin walls: A = p a/2t, the stresses 2 A, 0 and m A everywhere. A gauge at `45°` lies midway
    between hoop and axial, as the middle element of a rosette does, to either side.
    """

    kind: ClassVar[str] = "cylinder"
    places: ClassVar[tuple[str, ...]] = ("hoop", "45°", "axial")
    lame: ClassVar[str] = "Timoshenko and Goodier, Theory of Elasticity, 3rd ed., art. 28; from memory"

    ends: Literal["closed", "open", "fixed"]
    """Who carries the force on the closures: the wall (closed), a frame (open), or a pipe that cannot change its
    length (fixed)."""

    def strain(self, load: Numbers, place: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        """Strain along and across a gauge at `place` on the gauge surface under `load` (Pa)."""
        hoop, axial = self._strains(load, self.gauge_surface, *inputs)
        if place not in self.places:
            raise NumberError(f"place = {place!r}: a cylinder has {', '.join(self.places)}; write one of them")
        middle = (hoop + axial) / 2  # no shear in these axes: halfway round the circle of strain
        return {"hoop": (hoop, axial), "45°": (middle, middle), "axial": (axial, hoop)}[place]

    def yield_load(self) -> float:
        """Pressure (Pa) at which the bore starts to yield by von Mises, from nominal values, exact with either theory.

        At the bore the stress is A sqrt(3 (b/a)⁴ + (1 - m)²); nowhere in the wall is it higher.
        """
        outside, wall, _modulus, poisson = self._nominal()[:4]
        bore = outside - 2 * wall
        per_load = bore**2 / (outside**2 - bore**2)
        equivalent = per_load * np.sqrt(3 * (outside / bore) ** 4 + (1 - self._axial_share(poisson)) ** 2)
        return float(self.material.yield_strength.value / equivalent)

    def thin_overstates(self) -> float:
        """Half the wall over the inside radius: p a/t against 2 p a²/(b² - a²)."""
        return self.wall.value / (self.outside_diameter.value - 2 * self.wall.value)

    def volume_strain(self, load: Numbers, *inputs: Numbers) -> Numbers:
        """Growth of the bore: twice the hoop strain there plus the axial one (closures move with the wall)."""
        hoop, axial = self._strains(load, "inside", *inputs)
        return 2 * hoop + axial

    def volume_expansion(self, *inputs: Numbers) -> Numbers:
        """3 alpha where free; 2 (1 + nu) alpha where fixed: what cannot grow in length grows round."""
        return super().volume_expansion(*inputs) if self.ends != "fixed" else 2 * (1 + inputs[3]) * inputs[4]

    def _shape(self) -> str:
        return f"{self.ends} ends"

    def _strains(self, load: Numbers, surface: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        """Hoop and axial strain at a surface under `load`."""
        modulus, poisson = inputs[2:4]
        a, lean = self._a(load, *inputs), self._lean(surface, *inputs)
        share = self._axial_share(poisson)
        hoop = a * (1 + lean - poisson * (1 - lean + share)) / modulus
        return hoop, a * (share - 2 * poisson) / modulus

    def _a(self, load: Numbers, *inputs: Numbers) -> Numbers:
        """The A of the class."""
        outside, wall = inputs[:2]
        bore = outside - 2 * wall
        if self.theory == "thin":
            return inputs[6] * load * bore / (4 * wall)
        return load * bore**2 / (4 * wall * (outside - wall))

    def _lean(self, surface: str, *inputs: Numbers) -> Numbers:
        """b²/r², which makes the stresses differ through the wall."""
        outside, wall = inputs[:2]
        return 1.0 if surface == "outside" or self.theory == "thin" else (outside / (outside - 2 * wall)) ** 2

    def _axial_share(self, poisson: Numbers) -> Numbers:
        """Axial stress as a share of A."""
        return {"closed": 1.0, "open": 0.0, "fixed": 2 * poisson}[self.ends]
