"""Strips clamped at one end and loaded at the other: of constant section, and of constant stress."""

from __future__ import annotations

from abc import abstractmethod
from typing import ClassVar

from pydantic import ValidationInfo, field_validator

from rigproof.errors import NumberError
from rigproof.models import Fact, Numbers, PartModel
from rigproof.quantities import Uncertain, WrittenError, show
from rigproof.uncertainty import Input
from rigproof_parts.cautions import UNDER_FORCE, against_yield
from rigproof_parts.material import Material
from rigproof_parts.sizes import Length, slender


class Strip(PartModel):
    """What both share. A force (N, positive downwards) acts across the end; elementary beam theory.

    The strip is taken as narrow, free to curve across; a plate much wider than thick strains down to 1 - nu² of this.
    Keep the grid about one width away from clamp and load (common practice, no source).
    """

    load: ClassVar[str] = "force"
    places: ClassVar[tuple[str, ...]] = ("top", "bottom")

    bends: ClassVar[str]  # the formula, as people write it

    material: Material
    """A name of the data, or a mapping with the values of the certificate."""

    def expansion(self) -> Input:
        """Linear thermal expansion of the material (1/K)."""
        return self.material.expansion.input("expansion")

    def strain(self, load: Numbers, place: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        """Strain along and across a gauge in the strip's long direction under `load` (N)."""
        if place not in self.places:
            raise NumberError(f"place = {place!r}: a {self.kind} has {' and '.join(self.places)}; write one of them")
        along = self._top(load, *inputs)
        along = along if place == "top" else -along
        return along, -inputs[-1] * along

    def formulas(self) -> tuple[str, ...]:
        """Beam theory, and whose formula it is."""
        return (
            f"Expected strain: elementary beam theory, {self.bends}, without shear and large deflections (textbooks, "
            "from memory).",
            "First yield: bending stress of the skin, s b h²/(6 L) by the section at the clamp, nominal values.",
        )

    @abstractmethod
    def _top(self, load: Numbers, *inputs: Numbers) -> Numbers:
        """Strain along the top."""

    @abstractmethod
    def deflection_m(self, load: float) -> float:
        """How far the loaded end sinks (m) under `load` (N), from nominal values."""

    @abstractmethod
    def _length_m(self) -> float:
        """From clamp to force, nominal."""

    def facts(self, load: float) -> tuple[Fact, ...]:
        """Yield, and how far the end sinks at `load` (N)."""
        sinks = self.deflection_m(load)
        bent = Fact(
            "deflection of the end", sinks, "length", f"{100 * abs(sinks) / self._length_m():.2f} % of the length"
        )
        return (*super().facts(load), bent)

    def cautions(self, load: float) -> tuple[str, ...]:
        """What people must mind at `load` (N)."""
        sinks = self.deflection_m(load)
        share = abs(sinks) / self._length_m()
        bent = f"The end sinks by {show(sinks, 'length', 3)}, {100 * share:.1f} % of the length"
        bent += ": beam theory for small deflections does not hold." if share > 0.1 else "."
        return (against_yield(load, self.yield_load(), self.load), bent, *UNDER_FORCE)


class Cantilever(Strip):
    """A strip of constant rectangular section.

    `length` runs from the clamp to the line of the force, `gauge distance` from the clamp to the middle of the grid,
    which must stay one thickness away from both. Shear is left out: `length` is at least ten times the thickness.
    """

    kind: ClassVar[str] = "cantilever"
    bends: ClassVar[str] = "6 P (L - x)/(E b h²)"

    length: Length
    """From the clamp to the line of the force."""
    width: Length
    """Width of the strip."""
    thickness: Length
    """Thickness of the strip."""
    gauge_distance: Length
    """From the clamp to the middle of the grid."""

    @field_validator("thickness")
    @classmethod
    def _slender(cls, thickness: Uncertain, info: ValidationInfo) -> Uncertain:
        if "length" in info.data:
            slender(info.data["length"], thickness)
        return thickness

    @field_validator("gauge_distance")
    @classmethod
    def _between_clamp_and_load(cls, distance: Uncertain, info: ValidationInfo) -> Uncertain:
        length, thickness = info.data.get("length"), info.data.get("thickness")
        if length is not None and distance.upper >= length.lower:
            raise WrittenError(
                f"{distance.text!r} is not below the length of {length.text!r}, limits included",
                "write the distance of the grid from the clamp",
            )
        if length is None or thickness is None:
            return distance
        if min(distance.lower, length.lower - distance.upper) < thickness.upper:
            raise WrittenError(
                f"{distance.text!r} puts the grid less than one thickness of {thickness.text!r} from clamp or load, "
                "where the stress is not the beam's",
                "bond the gauge farther from both",
            )
        return distance

    def inputs(self) -> tuple[Input, ...]:
        """Length, gauge distance, width, thickness (m), elastic modulus (Pa), Poisson's ratio."""
        return (
            self.length.input("length"),
            self.gauge_distance.input("gauge distance"),
            self.width.input("width"),
            self.thickness.input("thickness"),
            *self.material.elastic(),
        )

    def yield_load(self) -> float:
        """Force (N) at which the skin at the clamp starts to yield, from nominal values: s b h²/(6 L)."""
        strength = self.material.yield_strength.value
        return strength * self.width.value * self.thickness.value**2 / (6 * self.length.value)

    def deflection_m(self, load: float) -> float:
        """How far the loaded end sinks (m) under `load` (N), from nominal values: 4 P L³/(E b h³)."""
        cube = (self.length.value / self.thickness.value) ** 3
        return 4 * load * cube / (self.material.elastic_modulus.value * self.width.value)

    def _top(self, load: Numbers, *inputs: Numbers) -> Numbers:
        """6 P (L - x)/(E b h²)."""
        length, distance, width, thickness, modulus = inputs[:5]
        return 6 * load * (length - distance) / (modulus * width * thickness**2)

    def _length_m(self) -> float:
        return self.length.value


class ConstantStressCantilever(Strip):
    """A strip of constant thickness whose width runs straight to nothing under the force: one strain all along.

    `length` runs from the clamp to the line of the force, where the two sides meet (produced, if the tip is cut off for
    the hook), `root width` is the width at the clamp. Where the grid sits does not matter.
    """

    kind: ClassVar[str] = "constant stress cantilever"
    bends: ClassVar[str] = "6 P L/(E b h²) all along"

    length: Length
    """From the clamp to the line of the force, where the sides meet."""
    root_width: Length
    """Width at the clamp."""
    thickness: Length
    """Thickness of the strip."""

    @field_validator("thickness")
    @classmethod
    def _slender(cls, thickness: Uncertain, info: ValidationInfo) -> Uncertain:
        if "length" in info.data:
            slender(info.data["length"], thickness)
        return thickness

    def inputs(self) -> tuple[Input, ...]:
        """Length, root width, thickness (m), elastic modulus (Pa), Poisson's ratio."""
        sizes = self.length.input("length"), self.root_width.input("root width"), self.thickness.input("thickness")
        return (*sizes, *self.material.elastic())

    def yield_load(self) -> float:
        """Force (N) at which the whole skin starts to yield, from nominal values: s b h²/(6 L)."""
        strength = self.material.yield_strength.value
        return strength * self.root_width.value * self.thickness.value**2 / (6 * self.length.value)

    def deflection_m(self, load: float) -> float:
        """How far the loaded end sinks (m) under `load` (N), from nominal values: 6 P L³/(E b h³)."""
        cube = (self.length.value / self.thickness.value) ** 3
        return 6 * load * cube / (self.material.elastic_modulus.value * self.root_width.value)

    def _top(self, load: Numbers, *inputs: Numbers) -> Numbers:
        """6 P L/(E b h²) with the width b at the clamp."""
        length, width, thickness, modulus = inputs[:4]
        return 6 * load * length / (modulus * width * thickness**2)

    def _length_m(self) -> float:
        return self.length.value
