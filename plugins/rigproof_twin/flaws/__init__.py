"""The flaws that can be planted in the twin. Each is data: words, bounds, and one change to the rig as built.

Several at once combine, in the order they are planted: each changes what the ones before have left.
"""

from __future__ import annotations

from rigproof.errors import UsageError
from rigproof.quantities import did_you_mean, parse, show
from rigproof.simulation import Planted
from rigproof_twin.as_built import AsBuilt
from rigproof_twin.flaws import bond, chain, load, packet, wiring
from rigproof_twin.flaws.planting import Planting

FLAWS: dict[str, Planting] = {
    planting.flaw.name: planting
    for planting in (
        bond.SOFT_BOND,
        bond.LOOSE_GAUGE,
        packet.WRONG_GAUGE_FACTOR,
        packet.DAMAGED_GRID,
        wiring.LEAKAGE,
        wiring.SWAPPED_CHANNELS,
        wiring.TWO_LEADS,
        wiring.OPEN_LEAD,
        chain.WRONG_SHUNT,
        chain.DRIFTING_ZERO,
        chain.DEAD_INSTRUMENT,
        chain.HIGH_PRESSURE_READING,
        load.THIN_WALL,
        load.YIELDING,
        load.SLOW_LEAK,
        load.OVERSHOOT,
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
