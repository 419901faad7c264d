"""What stands under pressure, and the energy in it as facts for the plan."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.models import Fact
from rigproof_parts.energy import (
    ATMOSPHERE_PA,
    HEAT_RATIO,
    elastic_energy_j,
    gas_energy_j,
    scaled_2008_m,
    scaled_m,
    stand_off_m,
    tnt_kg,
)

SOURCE = "ASME PCC-2, Article 501"
TRAPPED = 0.01  # share of the volume taken as trapped air, for comparison


@dataclass(frozen=True)
class Filled:
    """A filling in its shell, by the compressibility (dV/V)/dp of either."""

    filling: str
    volume_m3: float | None
    water_per_pa: float
    shell_per_pa: float

    def gas_j(self, load_pa: float) -> float:
        """Energy of the gas at a gauge pressure; nothing at or below the atmosphere."""
        return _gas_j(load_pa, self._volume(), HEAT_RATIO[self.filling])

    def trapped_j(self, load_pa: float) -> float:
        """Energy of one hundredth of the volume as air."""
        return _gas_j(load_pa, TRAPPED * self._volume(), HEAT_RATIO["air"])

    def water_j(self, load_pa: float) -> float:
        """Energy of the volume as water."""
        return elastic_energy_j(load_pa, self._volume(), self.water_per_pa)

    def shell_j(self, load_pa: float) -> float:
        """Elastic energy of the shell."""
        return elastic_energy_j(load_pa, self._volume(), self.shell_per_pa)

    def _volume(self) -> float:
        assert self.volume_m3 is not None, "a gas needs its volume when it is read; for water the callers ask"
        return self.volume_m3


def _gas_j(load_pa: float, volume_m3: float, heat_ratio: float) -> float:
    return gas_energy_j(max(load_pa, 0.0) + ATMOSPHERE_PA, volume_m3, heat_ratio)


def facts(filled: Filled, load_pa: float) -> tuple[Fact, ...]:
    """Energies at `load_pa` (gauge), and for a gas the distance in both forms of the article."""
    if filled.volume_m3 is None:
        return ()
    shell = Fact("energy stored in the shell", filled.shell_j(load_pa), "energy", "p² V C/2")
    water = filled.water_j(load_pa)
    if filled.filling == "water":
        return (
            Fact("energy stored in the water", water, "energy", "p² V K/2"),
            shell,
            Fact("energy of 1 % of the volume as trapped air", filled.trapped_j(load_pa), "energy", SOURCE),
        )
    gas = filled.gas_j(load_pa)
    return (
        Fact(f"energy stored in the {filled.filling}", gas, "energy", SOURCE),
        shell,
        Fact("energy if filled with water", water, "energy", "p² V K/2"),
        Fact("TNT of equal energy", tnt_kg(gas), "mass", SOURCE),
        Fact("scaled distance, 2008 print", scaled_2008_m(gas), "length", f"{SOURCE}: 20 m/kg^(1/3) TNT^(1/3)"),
        Fact("scaled distance, later prints", scaled_m(gas), "length", f"{SOURCE}: 20 m/kg^(1/3) (2 TNT)^(1/3)"),
        Fact("stand-off distance", stand_off_m(gas), "length", f"{SOURCE}: the greatest, with the fixed 30 m or 60 m"),
    )
