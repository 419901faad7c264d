"""What can be said of a gauge as installed, from the documents alone: leads, temperature, heating, insulation.

What the documents do not state is never guessed: a fact is left out, and a caution says what is missing.
"""

from __future__ import annotations

from math import floor
from typing import TYPE_CHECKING

from rigproof.models import Fact, Installation, Numbers
from rigproof.quantities import show
from rigproof.uncertainty import Budget, Estimate
from rigproof_strain import heating, leakage

if TYPE_CHECKING:
    from rigproof_strain.strain_bridge import StrainBridge

FALSE_STRAIN = 1e-6  # what poor insulation may add: trade custom, about the resolution of a reading
NOTICED_PER_K = 0.01e-6  # 1/K: ten kelvin of it are still below what any bridge resolves
ROUNDING = 1e-12  # of the strain
PER_K = "strain per temperature"
USUAL = ((1.8, 4.7), (40.0, 200.0))  # gauge factors of metal foil and wire, and of silicon: common practice, no source


def facts_of(bridge: StrainBridge, installed: Installation) -> tuple[Fact, ...]:
    """The facts, the ones that every gauge has first."""
    inputs = [item.value for item in bridge.inputs([installed.gauge])]
    loss = 1 - float(bridge.desensitisation(*inputs))
    leads_per_k = float(bridge.thermal(0.0, 0.0, 1.0, *inputs))
    least_ohm = float(leakage.least_insulation_ohm(inputs[0], inputs[1], FALSE_STRAIN))
    found = [
        Fact("lead desensitisation", loss, "ratio", "taken out again by the reduction"),
        Fact("false strain of copper leads", leads_per_k, PER_K, "conductors alike and equally warm"),
        *_thermal_facts(bridge, installed),
        *_heating_facts(installed),
        Fact("least insulation for 1 µε", least_ohm, "insulation resistance", "false strain of a leak on any path"),
    ]
    if installed.highest_strain:
        reading = installed.highest_strain / float(bridge.linear(1.0, 0.0, *inputs))
        adds = float(bridge.difference(reading, 0.0, *inputs))
        adds = adds if abs(adds) > ROUNDING * abs(installed.highest_strain) else 0.0
        found.append(
            Fact("error of a linear indicator", adds, "strain", "at the highest strain; taken out by the reduction")
        )
    return tuple(found)


def cautions_of(bridge: StrainBridge, installed: Installation) -> tuple[str, ...]:
    """Sentences without the channel's name, which the plan puts before them."""
    return (*_factor_cautions(installed), *_heating_cautions(installed), *_thermal_cautions(bridge, installed))


def thermal_output_per_k(bridge: StrainBridge, installed: Installation) -> Estimate | None:
    """Strain (1/K) shown when gauge, part and leads grow warmer together; None where an expansion is not stated.

    First order: expansion of the part less the one the gauge is made for, through the bridge. The lot's own curve,
    which the packet prints, comes on top.
    """
    compensated, part = installed.gauge.compensated_for, installed.expansion
    if compensated is None or part is None:
        return None

    def function(grows: Numbers, made_for: Numbers, *inputs: Numbers) -> Numbers:
        return bridge.thermal(grows, made_for, 1.0, *inputs)

    inputs = (part, compensated.input("compensated for"), *bridge.inputs([installed.gauge]))
    return Budget(function, inputs).evaluate()


def _factor_cautions(installed: Installation) -> list[str]:
    factor = installed.gauge.gauge_factor
    if any(low <= factor.value <= high for low, high in USUAL):
        return []
    return [f"a gauge factor of {factor.text} is unusual (foil 2 to 4, silicon 40 to 200): compare it with the packet"]


def _thermal_facts(bridge: StrainBridge, installed: Installation) -> list[Fact]:
    found = thermal_output_per_k(bridge, installed)
    note = "part and leads against `compensated for`; the packet's curve comes on top"
    return [] if found is None else [Fact("thermal output", found.value, PER_K, note, found.u)]


def _thermal_cautions(bridge: StrainBridge, installed: Installation) -> list[str]:
    found = thermal_output_per_k(bridge, installed)
    if found is None:
        lacking = "`compensated for:` of the gauge" if installed.expansion else "an expansion of the part"
        return [f"the thermal output is not known for want of {lacking}"]
    drift = abs(found.value) + 2 * found.u
    if installed.gauge.temperature is not None or drift < NOTICED_PER_K:
        return []
    return [f"no `temperature:` channel: drift of the bay reads as strain, up to {show(drift, PER_K, 2)} (k = 2)"]


def _heating_facts(installed: Installation) -> list[Fact]:
    gauge, volt = installed.gauge, installed.excitation_v
    area, allowed, ohm = gauge.grid_area, gauge.power_density, gauge.resistance.value
    found = []
    if volt is not None and area is not None:
        density = float(heating.density_w_per_m2(volt, ohm, area.value))
        found.append(Fact("power density in the grid", density, "power density", f"at {show(volt, 'voltage')}"))
    elif volt is not None:
        found.append(
            Fact("power in the grid", float(heating.power_w(volt, ohm)), "power", f"at {show(volt, 'voltage')}")
        )
    if area is not None and allowed is not None:
        highest = float(heating.largest_excitation_v(ohm, area.value, allowed.value))
        found.append(Fact("highest excitation", highest, "voltage", f"{allowed.text} on {area.text}"))
    return found


def _heating_cautions(installed: Installation) -> list[str]:
    gauge, volt = installed.gauge, installed.excitation_v
    area, allowed = gauge.grid_area, gauge.power_density
    lacking = {"`grid area:`": area, "`power density:`": allowed, "the excitation": volt}
    if volt is None or area is None or allowed is None:
        named = " and ".join(name for name, stated in lacking.items() if stated is None)
        return [f"whether the excitation heats the grid too much is not known for want of {named}"]
    density = float(heating.density_w_per_m2(volt, gauge.resistance.value, area.value))
    if density <= allowed.value:
        return []
    highest = float(heating.largest_excitation_v(gauge.resistance.value, area.value, allowed.value))
    taken = f"{show(volt, 'voltage')} leaves {show(density, 'power density', 2)} in the grid"
    return [
        f"{taken}, above the {allowed.text} that it may take: lower the excitation to "
        f"{floor(100 * highest) / 100:g} V or less"
    ]
