"""Energy stored under pressure, and how far away to stay.

Gas: ASME PCC-2-2008, Article 5.1, mandatory appendices II (equations II-1, II-2) and III; later editions, Article 501.
"""

from __future__ import annotations

import math

from rigproof.errors import NumberError

ATMOSPHERE_PA = 101_000.0  # as the article sets it
TNT_J_PER_KG = 4_266_920.0
SCALED_DISTANCE = 20.0  # m/kg^(1/3)
FIXED_M = 30.0
DIVIDE_J = 271e6  # above this the volume is to be divided or barricaded


def gas_energy_j(absolute_pa: float, volume_m3: float, heat_ratio: float = 1.4) -> float:
    """Energy of the isentropic expansion of a gas to the atmosphere (equation II-1; II-2 for `heat_ratio` 1.4)."""
    if absolute_pa < ATMOSPHERE_PA or volume_m3 <= 0:
        raise NumberError(
            f"absolute pressure = {absolute_pa:g} Pa, volume = {volume_m3:g} m³: the pressure must be at least "
            f"{ATMOSPHERE_PA:g} Pa and the volume positive; give gauge pressure + atmosphere"
        )
    rest: float = (ATMOSPHERE_PA / absolute_pa) ** ((heat_ratio - 1) / heat_ratio)
    return absolute_pa * volume_m3 / (heat_ratio - 1) * (1 - rest)


def liquid_energy_j(gauge_pa: float, volume_m3: float, compliance_per_pa: float) -> float:
    """Elastic energy of a liquid and the walls around it: p² V C/2, C = (dV/V)/dp of both together."""
    return 0.5 * gauge_pa**2 * volume_m3 * compliance_per_pa


def tnt_kg(energy_j: float) -> float:
    """Mass of TNT of equal energy (equation II-3, SI constant; the US constant of the article is 4 % larger)."""
    return energy_j / TNT_J_PER_KG


def stand_off_m(energy_j: float) -> float:
    """Smallest distance (m) of people from the part: the greater of the fixed and the scaled distance (appendix III).

    Scaled: 20 m/kg^(1/3) times the cube root of twice the TNT mass. The 2008 print leaves the two out; the form of the
    later prints is taken because it is the larger. Fixed: 30 m; the article's 60 m above 135.5 MJ never decide, the
    scaled distance is 80 m there.
    """
    return max(FIXED_M, SCALED_DISTANCE * math.cbrt(2 * tnt_kg(energy_j)))
