"""What all pressure parts share: dimensions, theory, filling, the shut-in pressure's answer to temperature."""

from __future__ import annotations

from abc import abstractmethod
from math import inf, log, sqrt
from typing import Annotated, ClassVar, Literal

from pydantic import ValidationInfo, field_validator

from rigproof.models import Fact, Numbers, PartModel
from rigproof.quantities import Quantity, Uncertain, WrittenError, parse_uncertain, quantity, uncertain
from rigproof.uncertainty import Input
from rigproof_parts import codes, stored, water
from rigproof_parts.cautions import pressure_cautions
from rigproof_parts.energy import HEAT_RATIO
from rigproof_parts.material import Material
from rigproof_parts.sizes import Length

ATMOSPHERE_PA = 101_325.0  # standard atmosphere (ISO 2533, from memory)
ZERO_CELSIUS_K = 273.15
THIN = 10.0  # least inside radius over wall for thin-wall theory (Hibbeler, Mechanics of Materials, 8.1; from memory)


class Vessel(PartModel):
    """A shell under internal gauge pressure, away from ends, nozzles and welds.

    `theory: thick` is Lame's exact solution. `thin` spreads the stress evenly over the wall, p r/t with the inside
    radius; it overstates the strain of the outside by a share that goes into the budget as the limits of an input, and
    knows neither the inside nor walls above a tenth of the radius.

    `volume` is that of the filling; gas needs it for its stored energy. `filling temperature` is where the water
    stands during a shut-in hold: its expansion changes by 5 % per kelvin at 20 °C. `working pressure` gives the test
    pressures of the codes.
    """

    load: ClassVar[str] = "gauge pressure"
    without: ClassVar[str] = "leak or permanent set"
    lame: ClassVar[str]  # where the exact solution stands

    outside_diameter: Length
    """Outside diameter at the gauges."""
    wall: Length
    """Wall thickness at the gauges."""
    gauge_surface: Literal["outside", "inside"] = "outside"
    """The side of the wall that carries the gauges."""
    theory: Literal["thick", "thin"] = "thick"
    """Exact for any wall (thick), or stress spread evenly over a thin wall."""
    filling: Literal["water", "air", "nitrogen", "helium"]
    """What transmits the pressure; gas stores far more energy than water."""
    filling_temperature: Annotated[Uncertain, uncertain("temperature", at_least="0 °C", at_most="100 °C")] = (
        parse_uncertain("20 °C ± 2 K", "temperature")
    )
    """Of the filling during a shut-in hold."""
    volume: Annotated[Uncertain | None, uncertain("volume", above="0 l")] = None
    """Of the filling; needed for the energy stored in a gas, and for the air content."""
    working_pressure: Annotated[Quantity | None, quantity("gauge pressure", above="0 bar")] = None
    """Pressure the part is made for; gives the test pressures of the codes."""
    material: Material
    """A name of the data, or a mapping with the values of the certificate."""

    @field_validator("wall")
    @classmethod
    def _bore_is_left(cls, wall: Uncertain, info: ValidationInfo) -> Uncertain:
        outside = info.data.get("outside_diameter")
        if outside is not None and 2 * wall.upper >= outside.lower:
            raise WrittenError(
                f"{wall.text!r} is not below half the outside diameter of {outside.text!r}, limits included",
                "write the wall thickness",
            )
        return wall

    @field_validator("theory")
    @classmethod
    def _thin_where_it_holds(cls, theory: str, info: ValidationInfo) -> str:
        outside, wall = info.data.get("outside_diameter"), info.data.get("wall")
        if theory == "thick" or outside is None or wall is None:
            return theory
        remedy = "write `theory: thick`, or leave it out"
        ratio = (outside.lower / 2 - wall.upper) / wall.upper
        if ratio < THIN:
            raise WrittenError(
                f"the wall of {wall.text!r} gives r/t = {ratio:.4g} (inside radius over wall, limits included), and "
                f"thin-wall theory needs r/t of at least {THIN:g}",
                remedy,
            )
        if info.data.get("gauge_surface") == "inside":
            raise WrittenError("thin-wall theory does not tell the inside from the outside", remedy)
        return theory

    @field_validator("volume")
    @classmethod
    def _gas_has_a_volume(cls, volume: Uncertain | None, info: ValidationInfo) -> Uncertain | None:
        filling = info.data.get("filling")
        if volume is None and filling in HEAT_RATIO:
            raise WrittenError(
                f"the filling {filling} needs a `volume`, for stored energy and stand-off",
                "add one such as 40 l, or fill with water",
            )
        return volume

    def expansion(self) -> Input:
        """Linear thermal expansion of the material (1/K)."""
        return self.material.expansion.input("expansion")

    def elastic(self) -> tuple[Input, Input, float] | None:
        """Elastic modulus (Pa), Poisson's ratio, yield strength (Pa); None inside, where pressure bears on the wall."""
        if self.gauge_surface == "inside":
            return None
        return *self.material.elastic(), self.material.yield_strength.value

    def inputs(self) -> tuple[Input, ...]:
        """Outside diameter, wall (m), modulus (Pa), Poisson's ratio, expansion (1/K), filling temperature (°C).

        With `theory: thin` a seventh follows: what its strains are to be multiplied by, 1 with limits.
        """
        written = (
            self.outside_diameter.input("outside diameter"),
            self.wall.input("wall"),
            *self.material.inputs(),
            self.filling_temperature.input("filling temperature"),
        )
        if self.theory == "thick":
            return written
        limits = self.thin_overstates()
        return (*written, Input("thin-wall theory", 1.0, limits / sqrt(3), dof=inf, shape="rectangular"))

    def formulas(self) -> tuple[str, ...]:
        """The theory of the wall, and how yield is told, which is exact with either theory."""
        return (f"{self._theory()}.", "First yield: von Mises at the bore of a thick wall, nominal values.")

    def _theory(self) -> str:
        """Of the strain, as a sentence without its full stop."""
        if self.theory == "thick":
            return f"Expected strain: thick wall (Lame), {self._shape()}, {self.gauge_surface} surface ({self.lame})"
        return (
            f"Expected strain: thin wall, stress spread evenly, {self._shape()} (Hibbeler, Mechanics of Materials, "
            "8.1; from memory); what that overstates is in the budget"
        )

    @abstractmethod
    def _shape(self) -> str:
        """What of the shell the formula depends on, in words."""

    @abstractmethod
    def thin_overstates(self) -> float:
        """How much of the exact strain of the outside thin-wall theory adds to it, from nominal values."""

    @abstractmethod
    def volume_strain(self, load: Numbers, *inputs: Numbers) -> Numbers:
        """Relative growth of the enclosed volume under `load` (Pa)."""

    def volume_expansion(self, *inputs: Numbers) -> Numbers:
        """Relative growth of the enclosed volume per kelvin of a free part: 3 times the linear expansion."""
        return 3 * inputs[4]

    def load_per_kelvin(self, load: Numbers, *inputs: Numbers) -> Numbers:
        """Rise of the shut-in pressure (Pa) per kelvin of filling and wall together, at the gauge pressure `load` (Pa).

        (b_f - b_v)/(K_f + C_v): expansion and compressibility of the filling, less and plus those of the enclosed
        volume. Water at the filling temperature, no trapped air; a gas as ideal: 1/T and 1/p, both absolute.
        """
        celsius = inputs[5]
        if self.filling == "water":
            expansion, compressibility = water.expansion_per_k(celsius), water.compressibility_per_pa(celsius)
        else:
            expansion, compressibility = 1 / (celsius + ZERO_CELSIUS_K), 1 / (load + ATMOSPHERE_PA)
        free = expansion - self.volume_expansion(*inputs)
        return free / (compressibility + self.volume_strain(1.0, *inputs))

    def cavity(self) -> Input | None:
        """The volume, where it is stated and holds water."""
        return None if self.volume is None or self.filling != "water" else self.volume.input("volume")

    def intake(self, load: Numbers, *inputs: Numbers) -> Numbers:
        """What the water is squeezed by and the wall gives way, from no load to `load` (Pa)."""
        return load * water.compressibility_per_pa(inputs[5]) + self.volume_strain(load, *inputs)

    def clear_of_ends_m(self) -> float:
        """Distance (m) from a clamped edge at which 1 % of its disturbance is left, from nominal values.

        It dies away within sqrt(2) exp(-b x), b⁴ = 3 (1 - nu²)/(r t)² with the mean radius (Timoshenko and
        Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., art. 114; from memory). The usual 2.5 sqrt(r t) leaves
        4 %.
        """
        outside, wall, _modulus, poisson = self._nominal()[:4]
        decay: float = (3 * (1 - poisson**2)) ** 0.25 / sqrt((outside - wall) / 2 * wall)
        return log(sqrt(2) / 0.01) / decay

    def stored_energy(self, load: float) -> tuple[Fact, ...]:
        """Energy of filling and shell at `load` (Pa), and for gas how far to stay away; none without a volume."""
        return stored.facts(self._filled(), load)

    def facts(self, load: float) -> tuple[Fact, ...]:
        """Yield, edges, temperature, stored energy and distance at `load` (Pa), and the test pressures of codes."""
        per_kelvin = float(self.load_per_kelvin(load, *self._nominal()))
        found = [
            Fact(
                "gauges clear of ends, nozzles and welds by",
                self.clear_of_ends_m(),
                "length",
                "nearer, an end disturbs the strain by over 1 %",
            ),
            Fact("rise of the shut-in load per kelvin", per_kelvin, "pressure difference", "no trapped air"),
            *self.stored_energy(load),
        ]
        if self.theory == "thin":
            found.append(Fact("thin-wall theory overstates by up to", self.thin_overstates(), "ratio", "outside"))
        if self.working_pressure is not None:
            found += codes.facts(self.working_pressure.value, self.yield_load(), gas=self.filling in HEAT_RATIO)
        return (*super().facts(load), *found)

    def cautions(self, load: float) -> tuple[str, ...]:
        """What people must mind at `load` (Pa): energy, distance, yield, relief, barrier, venting, local rules."""
        return pressure_cautions(self._filled(), load, self.yield_load())

    def unsaid(self) -> tuple[str, ...]:
        """The stored energy, where no volume is written; a gas cannot be without one."""
        if self.volume is not None:
            return ()
        return ("The energy stored under pressure is not told: no `volume:` is written under `part:`.",)

    def _nominal(self) -> list[float]:
        return [item.value for item in self.inputs()]

    def _filled(self) -> stored.Filled:
        nominal = self._nominal()
        volume = None if self.volume is None else self.volume.value
        shell = float(self.volume_strain(1.0, *nominal))
        return stored.Filled(self.filling, volume, float(water.compressibility_per_pa(nominal[5])), shell)
