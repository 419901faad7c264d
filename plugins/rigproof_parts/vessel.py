"""What all pressure parts share: dimensions, filling, the shut-in pressure's answer to temperature, cautions."""

from __future__ import annotations

from abc import abstractmethod
from typing import Annotated, ClassVar, Literal

from pydantic import ValidationInfo, field_validator

from rigproof.models import Numbers, PartModel
from rigproof.quantities import Quantity, Uncertain, WrittenError, parse_uncertain, quantity, uncertain
from rigproof.uncertainty import Input
from rigproof_parts import water
from rigproof_parts.cautions import HEAT_RATIO, Filled, pressure_cautions
from rigproof_parts.material import Length, Material

ATMOSPHERE_PA = 101_325.0  # standard atmosphere (ISO 2533, from memory)
ZERO_CELSIUS_K = 273.15


class Vessel(PartModel):
    """A shell under internal gauge pressure; stresses by Lame's exact solution, away from ends, nozzles and welds.

    `volume` is that of the filling; gas needs it for its stored energy. `filling temperature` is where the water
    stands during a shut-in hold: its expansion changes by 5 % per kelvin at 20 °C.
    """

    load: ClassVar[str] = "gauge pressure"

    outside_diameter: Length
    wall: Length
    gauge_surface: Literal["outside", "inside"] = "outside"
    filling: Literal["water", "air", "nitrogen", "helium"]
    filling_temperature: Annotated[Uncertain, uncertain("temperature", at_least="0 °C", at_most="100 °C")] = (
        parse_uncertain("20 °C ± 2 K", "temperature")
    )
    volume: Annotated[Quantity | None, quantity("volume", above="0 l")] = None
    material: Material

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

    @field_validator("volume")
    @classmethod
    def _gas_has_a_volume(cls, volume: Quantity | None, info: ValidationInfo) -> Quantity | None:
        filling = info.data.get("filling")
        if volume is None and filling in HEAT_RATIO:
            raise WrittenError(
                f"the filling {filling} needs a `volume`, for stored energy and stand-off",
                "add one such as 40 l, or fill with water",
            )
        return volume

    def inputs(self) -> tuple[Input, ...]:
        """Outside diameter, wall (m), modulus (Pa), Poisson's ratio, expansion (1/K), filling temperature (°C)."""
        return (
            self.outside_diameter.input("outside diameter"),
            self.wall.input("wall"),
            *self.material.inputs(),
            self.filling_temperature.input("filling temperature"),
        )

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

    def cautions(self, load: float) -> tuple[str, ...]:
        """What people must mind at `load` (Pa): energy, distance, yield, relief, barrier, venting, local rules."""
        nominal = [item.value for item in self.inputs()]
        compliance = water.compressibility_per_pa(nominal[5]) + self.volume_strain(1.0, *nominal)
        volume = None if self.volume is None else self.volume.value
        return pressure_cautions(Filled(self.filling, volume, float(compliance)), load, self.yield_load())
