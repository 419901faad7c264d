"""The flaws that can be planted in the twin. Each is data: words, bounds, and one change to the rig as built.

Several at once combine, in the order they are planted: each changes what the ones before have left.
"""

from __future__ import annotations

from rigproof.errors import UsageError
from rigproof.quantities import did_you_mean, parse, show
from rigproof.simulation import Planted
from rigproof_twin.as_built import AsBuilt
from rigproof_twin.flaws import amplifier, bond, cell, load, packet, reading, transmitter, wiring
from rigproof_twin.flaws.planting import Planting

FLAWS: dict[str, Planting] = {
    planting.flaw.name: planting
    for planting in (
        bond.SOFT_BOND,
        bond.LOOSE_GAUGE,
        bond.MISALIGNED_GAUGES,
        bond.MISPLACED_GAUGES,
        packet.WRONG_GAUGE_FACTOR,
        packet.DAMAGED_GRID,
        packet.OTHER_RESISTANCE,
        packet.THERMAL_MISMATCH,
        packet.SELF_HEATING,
        wiring.LEAKAGE,
        wiring.SWAPPED_CHANNELS,
        wiring.SWAPPED_ARMS,
        wiring.TURNED_SIGN,
        wiring.TWO_LEADS,
        wiring.LONG_LEADS,
        wiring.UNEQUAL_LEADS,
        wiring.LOOSE_JOINT,
        wiring.OPEN_LEAD,
        amplifier.WRONG_SHUNT,
        amplifier.WRONG_GAIN,
        amplifier.DRIFTING_ZERO,
        amplifier.MAINS_PICKUP,
        amplifier.SATURATION,
        amplifier.COARSE_RANGE,
        amplifier.FROZEN_READINGS,
        amplifier.DEAD_INSTRUMENT,
        transmitter.HIGH_PRESSURE_READING,
        transmitter.TRANSMITTER_OFFSET,
        transmitter.UNIT_SLIP,
        transmitter.FROZEN_TRANSMITTER,
        load.THIN_WALL,
        load.WRONG_MATERIAL,
        load.YIELDING,
        load.SLOW_LEAK,
        load.OVERSHOOT,
        load.UNDERSHOOT,
        load.LOADED_ZERO,
        load.STUCK_VENT,
        load.TRAPPED_GAS,
        reading.MISREAD,
        cell.ECCENTRIC_LOAD,
        cell.HYSTERETIC_BODY,
    )
}


def plant(built: AsBuilt, planted: Planted) -> None:
    """Put a flaw into the rig; without a size the flaw's own default.

    Raises `UsageError` for an unknown name, a size where there is none, or one out of bounds.
    """
    planting = FLAWS.get(planted.name)
    if planting is None:
        raise UsageError(f"flaw={planted.name!r}: the twin knows no such flaw; {did_you_mean(planted.name, FLAWS)}")
    flaw = planting.flaw
    if not flaw.kind:
        if planted.size is not None:
            raise UsageError(f"flaw {planted.text}: {flaw.name} has no size. Leave it out.")
        planting.apply(built, 0.0)
        return
    size = parse(flaw.size, flaw.kind).value if planted.size is None else planted.size
    if not planting.lowest <= size <= planting.highest:
        lower, upper = show(planting.lowest, flaw.kind), show(planting.highest, flaw.kind)
        raise UsageError(f"flaw {planted.text}: out of bounds. Give a size from {lower} to {upper}.")
    planting.apply(built, size)
