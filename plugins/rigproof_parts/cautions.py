"""What people must mind under pressure, in whole sentences with the numbers of the part in hand.

Written from general practice and the documents named in the sentences' functions; none replaces the code that governs.
"""

from __future__ import annotations

from rigproof.quantities import show
from rigproof_parts.energy import DIVIDE_J, stand_off_m, tnt_kg
from rigproof_parts.stored import Filled

YIELD = "where the most stressed point starts to yield by nominal values"
UNDER_FORCE = (
    "Loads fall and presses crush: keep hands and feet out of the load path, and put up something that catches a load "
    "that slips before the first one goes on.",
    "A software interlock is no protective device: fit a stop or a relief valve that limits the load by itself, and "
    "let a competent person lead the test.",
    "Local law, the design code and the competent person override this procedure.",
)
UNDER_TORQUE = (
    "A shaft under torque stores energy and whips when something slips: guard it, tie nothing loose to it, keep hands, "
    "hair and clothes away.",
    *UNDER_FORCE[1:],
)
ALWAYS = (
    "Pressure hurts people: plugs, fittings and hoses fly; keep out of their line, restrain hoses, and let nobody near "
    "the part while the pressure rises or stands at its highest; read from a distance, and come close only at reduced "
    "pressure.",
    "A software interlock is no protective device: fit a relief device, set and proved before the test, and a barrier, "
    "and let a competent person lead the test under a written safe system of work.",
    "Keep the metal well above its brittle transition; 17 K above the lowest design metal temperature is common "
    "practice.",
    "Local law, the design code and the competent person override this procedure.",
)
WITH_WATER = (
    "Vent every high point while filling and wait for the temperature to settle: trapped air stores far more energy "
    "than water and hides a leak.",
    "Lower the pressure slowly and open a high vent before draining, so that no vacuum crushes the part.",
)


def pressure_cautions(filled: Filled, load_pa: float, yield_pa: float) -> tuple[str, ...]:
    """The cautions at `load_pa` (gauge), the part's own first."""
    about_filling = _water(filled, load_pa) if filled.filling == "water" else _gas(filled, load_pa)
    return (against_yield(load_pa, yield_pa, "gauge pressure"), *about_filling, *ALWAYS)


def against_yield(load: float, limit: float, kind: str, what: str = YIELD) -> str:
    """How near a load (base units of `kind`) comes to `limit`, which is `what`."""
    share = abs(load) / limit
    at = f"{show(load, kind, 4)} is {100 * share:.0f} % of {show(limit, kind, 4)}, {what}"
    if share >= 1:
        return f"Do not go there: {at}."
    if share > 0.9:  # ASME B31.3, 345.2.1 and 345.5.4, hold tests to yield and to 90 % of it
        return f"{at}: little is left for a thin spot or a soft batch."
    return f"{at}."


def _water(filled: Filled, load_pa: float) -> tuple[str, ...]:
    if filled.volume_m3 is None:
        return WITH_WATER
    energy = filled.water_j(load_pa) + filled.shell_j(load_pa)
    stored = (
        f"Water and shell store {show(energy, 'energy', 2)} at {show(load_pa, 'gauge pressure', 4)}; one hundredth of "
        f"the volume as trapped air would store {show(filled.trapped_j(load_pa), 'energy', 2)}."
    )
    return (stored, *WITH_WATER)


def _gas(filled: Filled, load_pa: float) -> tuple[str, ...]:
    assert filled.volume_m3 is not None, "a gas-filled part without volume is refused when it is read"
    energy, in_water = filled.gas_j(load_pa), filled.water_j(load_pa) + filled.shell_j(load_pa)
    stored = (
        f"{filled.filling.capitalize()} at {show(load_pa, 'gauge pressure', 4)} in "
        f"{show(filled.volume_m3, 'volume', 4)} stores {show(energy, 'energy', 3)}, as much as {tnt_kg(energy):.2g} kg "
        f"of TNT (ASME PCC-2, Article 501); water would store {show(in_water, 'energy', 2)}: prefer water."
    )
    distance = (
        f"Keep everybody at least {stand_off_m(energy):.0f} m away (the greater of the fixed and the scaled distance "
        "of ASME PCC-2, Article 501, for 20 m/kg^(1/3)); fragments can fly farther, and a barrier needs its own design."
    )
    divide = "Above 271 MJ divide the volume or build a barricade (ASME PCC-2, Article 501)."
    relief = (
        "Use a dry, inert gas, raise it to not more than half, then in steps of about a tenth, with the relief device "
        "set close above the test pressure (ASME B31.3, 345.5: the lesser of 345 kPa and 10 %)."
    )
    return (stored, distance, *((divide,) if energy > DIVIDE_J else ()), relief)
