"""Energy stored under pressure, and how far away to stay.

Gas: ASME PCC-2-2008, Article 5.1, mandatory appendices II (equations II-1, II-2) and III; later editions, Article 501.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from rigproof.errors import NumberError

# Ratio of specific heats of the gases a part may be filled with (ideal gas, room temperature; from memory).
HEAT_RATIO: Mapping[str, float] = {"air": 1.4, "nitrogen": 1.4, "helium": 5 / 3}

ATMOSPHERE_PA = 101_000.0  # as the article sets it
TNT_J_PER_KG = 4_266_920.0
SCALED_DISTANCE = 20.0  # m/kg^(1/3)
NEAR_J = 135.5e6  # up to this 30 m is the least distance, above it 60 m
DIVIDE_J = 271e6  # above this the volume is to be divided or barricaded


def gas_energy_j(absolute_pa: float, volume_m3: float, heat_ratio: float = 1.4) -> float:
    """Energy of the isentropic expansion of a gas to the atmosphere (equation II-1; II-2 for `heat_ratio` 1.4)."""
    if not (absolute_pa >= ATMOSPHERE_PA and volume_m3 > 0):
        raise NumberError(
            f"absolute pressure = {absolute_pa:g} Pa, volume = {volume_m3:g} m³: the pressure must be at least "
            f"{ATMOSPHERE_PA:g} Pa and the volume positive; give gauge pressure + atmosphere"
        )
    rest: float = (ATMOSPHERE_PA / absolute_pa) ** ((heat_ratio - 1) / heat_ratio)
    return absolute_pa * volume_m3 / (heat_ratio - 1) * (1 - rest)


def elastic_energy_j(gauge_pa: float, volume_m3: float, compliance_per_pa: float) -> float:
    """Elastic energy of a liquid or of the walls around it: p² V C/2, C = (dV/V)/dp of what stores it."""
    return 0.5 * gauge_pa**2 * volume_m3 * compliance_per_pa


def tnt_kg(energy_j: float) -> float:
    """Mass of TNT of equal energy (equation II-3, SI constant; the US constant of the article is 4 % larger)."""
    return energy_j / TNT_J_PER_KG


def fixed_m(energy_j: float) -> float:
    """Least distance (m) whatever the scaled one says (appendix III)."""
    return 30.0 if energy_j <= NEAR_J else 60.0


def scaled_m(energy_j: float) -> float:
    """Scaled distance (m) of the later prints: 20 m/kg^(1/3) times the cube root of twice the TNT mass."""
    return SCALED_DISTANCE * math.cbrt(2 * tnt_kg(energy_j))


def scaled_2008_m(energy_j: float) -> float:
    """Scaled distance (m) of the 2008 print, which leaves the two out."""
    return SCALED_DISTANCE * math.cbrt(tnt_kg(energy_j))


def stand_off_m(energy_j: float) -> float:
    """Smallest distance (m) of people from the part: the greatest of the fixed distance and both scaled ones."""
    return max(fixed_m(energy_j), scaled_2008_m(energy_j), scaled_m(energy_j))
