"""Columns under axial force, the bodies of many force cells: round and rectangular."""

from __future__ import annotations

import math
from abc import abstractmethod
from typing import Annotated, ClassVar, Literal

from pydantic import ValidationInfo, field_validator

from rigproof.errors import NumberError
from rigproof.models import Numbers, PartModel
from rigproof.quantities import Uncertain, WrittenError, parse_uncertain, uncertain
from rigproof.uncertainty import Input
from rigproof_parts.cautions import UNDER_FORCE, against_yield
from rigproof_parts.material import Material
from rigproof_parts.sizes import SOLID, Bore, Length, bore_inside

Eccentricity = Annotated[Uncertain, uncertain("length", at_least="0 mm")]
CENTRIC = parse_uncertain("0 mm", "length")


class Bar(PartModel):
    """A straight bar under a force (N) along its axis, counted positive as `loaded in` says.

    Uniform stress: the gauges sit more than one size of the section from the ends (common practice, no source), so a
    `length`, where it is written, is at least twice that size; in compression it must not buckle before it yields.

    A force off the axis by `eccentricity` e bends the bar. `loaded side` and `opposite side` are axial gauges where the
    bending adds most and takes most, e c/k² of the strain (c distance of the skin, k radius of gyration). `axial` and
    `around` stand for gauges all round in one bridge, in which the bending cancels; one gauge alone does not see that.
    """

    load: ClassVar[str] = "force"
    places: ClassVar[tuple[str, ...]] = ("axial", "around", "loaded side", "opposite side")

    loaded_in: Literal["compression", "tension"]
    """Which way the force acts; it counts positive so."""
    material: Material
    """A name of the data, or a mapping with the values of the certificate."""

    def expansion(self) -> Input:
        """Linear thermal expansion of the material (1/K)."""
        return self.material.expansion.input("expansion")

    @abstractmethod
    def _section(self, *sizes: Numbers) -> tuple[Numbers, Numbers]:
        """Area (m²) and c/k² (1/m) of the section."""

    def strain(self, load: Numbers, place: str, *inputs: Numbers) -> tuple[Numbers, Numbers]:
        """Strain along and across a gauge at `place` under `load` (N): P/(A E) along the axis, -nu of it around."""
        if place not in self.places:
            raise NumberError(f"place = {place!r}: a {self.kind} has {', '.join(self.places)}; write one of them")
        *sizes, eccentricity, modulus, poisson = inputs
        area, reach = self._section(*sizes)
        axial = load / (area * modulus)
        axial = axial if self.loaded_in == "tension" else -axial
        if place == "around":
            return -poisson * axial, axial
        lean = {"axial": 0.0, "loaded side": 1.0, "opposite side": -1.0}[place]
        along = axial * (1 + lean * eccentricity * reach)
        return along, -poisson * along

    def yield_load(self) -> float:
        """Force (N) at which the loaded side starts to yield, from nominal values: s A/(1 + e c/k²)."""
        *sizes, eccentricity, _modulus, _poisson = (item.value for item in self.inputs())
        area, reach = self._section(*sizes)
        return float(self.material.yield_strength.value * area / (1 + eccentricity * reach))

    def formulas(self) -> tuple[str, ...]:
        """Uniform stress, with the bending of an eccentric force."""
        return (
            "Expected strain: uniform stress P/(A E), and e c/k² of it for a force off the axis (textbooks, from "
            "memory).",
            "First yield: stress of the more loaded side, nominal values.",
        )

    def cautions(self, load: float) -> tuple[str, ...]:
        """What people must mind at `load` (N)."""
        return (against_yield(load, self.yield_load(), self.load), *UNDER_FORCE)


def _inside_section(eccentricity: Uncertain, size: Uncertain | None) -> Uncertain:
    if size is not None and eccentricity.upper > size.lower / 2:
        raise WrittenError(
            f"{eccentricity.text!r} is more than half of {size.text!r}, limits included",
            "write how far the force acts from the axis, inside the section",
        )
    return eccentricity


def _fit_length(length: Uncertain, size: Uncertain, radius_m: float, info: ValidationInfo) -> None:
    """Refuse a bar too short for uniform stress, and one that buckles (Euler, both ends free to turn)."""
    if length.lower < 2 * size.upper:
        raise WrittenError(
            f"{length.text!r} is less than twice the size of {size.text!r}, limits included: no place in it is clear "
            "of both ends",
            "take a longer bar",
        )
    material = info.data.get("material")
    if material is None or info.data.get("loaded_in") != "compression":
        return
    slenderness = length.upper / radius_m
    highest = math.pi * math.sqrt(material.elastic_modulus.lower / material.yield_strength.value)
    if slenderness > highest:
        raise WrittenError(
            f"{length.text!r} gives a slenderness of {slenderness:.4g} (length over radius of gyration), and above "
            f"{highest:.4g} the bar buckles before it yields",
            "take a shorter or thicker bar",
        )


class Column(Bar):
    """A round bar, solid or with a bore: c/k² = 8 d/(d² + bore²)."""

    kind: ClassVar[str] = "column"

    diameter: Length
    """Outside diameter."""
    bore: Bore = SOLID
    """Inside diameter; left out, the bar is solid."""
    eccentricity: Eccentricity = CENTRIC
    """How far the force is off the axis."""
    length: Length | None = None
    """Of the free bar; written, it is seen whether it buckles."""

    @field_validator("bore")
    @classmethod
    def _smaller_than_the_bar(cls, bore: Uncertain, info: ValidationInfo) -> Uncertain:
        return bore_inside(bore, info.data.get("diameter"))

    @field_validator("eccentricity")
    @classmethod
    def _in_the_section(cls, eccentricity: Uncertain, info: ValidationInfo) -> Uncertain:
        return _inside_section(eccentricity, info.data.get("diameter"))

    @field_validator("length")
    @classmethod
    def _stout(cls, length: Uncertain | None, info: ValidationInfo) -> Uncertain | None:
        diameter, bore = info.data.get("diameter"), info.data.get("bore")
        if length is not None and diameter is not None and bore is not None:
            _fit_length(length, diameter, math.hypot(diameter.value, bore.value) / 4, info)
        return length

    def inputs(self) -> tuple[Input, ...]:
        """Diameter, bore, eccentricity (m), elastic modulus (Pa), Poisson's ratio."""
        sizes = self.diameter.input("diameter"), self.bore.input("bore")
        return (*sizes, self.eccentricity.input("eccentricity"), *self.material.elastic())

    def _section(self, *sizes: Numbers) -> tuple[Numbers, Numbers]:
        diameter, bore = sizes
        return math.pi / 4 * (diameter**2 - bore**2), 8 * diameter / (diameter**2 + bore**2)


class RectangularColumn(Bar):
    """A bar of rectangular section; the eccentricity is counted along `depth`: c/k² = 6/h."""

    kind: ClassVar[str] = "rectangular column"

    width: Length
    """Side of the section across the eccentricity."""
    depth: Length
    """Side of the section along the eccentricity."""
    eccentricity: Eccentricity = CENTRIC
    """How far the force is off the axis, along the depth."""
    length: Length | None = None
    """Of the free bar; written, it is seen whether it buckles."""

    @field_validator("eccentricity")
    @classmethod
    def _in_the_section(cls, eccentricity: Uncertain, info: ValidationInfo) -> Uncertain:
        return _inside_section(eccentricity, info.data.get("depth"))

    @field_validator("length")
    @classmethod
    def _stout(cls, length: Uncertain | None, info: ValidationInfo) -> Uncertain | None:
        width, depth = info.data.get("width"), info.data.get("depth")
        if length is not None and width is not None and depth is not None:
            size = max(width, depth, key=lambda side: side.value)
            _fit_length(length, size, min(width.value, depth.value) / math.sqrt(12), info)
        return length

    def inputs(self) -> tuple[Input, ...]:
        """Width, depth, eccentricity (m), elastic modulus (Pa), Poisson's ratio."""
        sizes = self.width.input("width"), self.depth.input("depth")
        return (*sizes, self.eccentricity.input("eccentricity"), *self.material.elastic())

    def _section(self, *sizes: Numbers) -> tuple[Numbers, Numbers]:
        width, depth = sizes
        return width * depth, 6 / depth
