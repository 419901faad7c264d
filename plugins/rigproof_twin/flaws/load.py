"""Flaws of the part and of what puts it under pressure."""

from __future__ import annotations

from math import inf

from rigproof.errors import UsageError
from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt, Vessel
from rigproof_twin.flaws.planting import Planting, pump

IRON_POISSON_RATIO, IRON_EXPANSION_PER_K = 0.275, 12.5e-6  # nodular cast iron, as EN 1563 has it (from memory)


def _thin(built: AsBuilt, share: float) -> None:
    if not isinstance(built.part, Vessel):
        raise UsageError("flaw thin-wall: the part of the rig has no wall. Choose another flaw.")
    built.part.wall_m *= 1.0 - share


def _weaken(built: AsBuilt, yield_pa: float) -> None:
    built.part.yield_strength_pa = yield_pa


def _leak(built: AsBuilt, pa_per_s: float) -> None:
    source = pump(built, "slow-leak")
    # Laminar: the flow through a narrow gap is in proportion to the pressure.
    source.leak_time_s = source.limit_pa / pa_per_s if pa_per_s else inf


def _overshoot(built: AsBuilt, share: float) -> None:
    pump(built, "overshoot").overshoot = share


def _undershoot(built: AsBuilt, share: float) -> None:
    pump(built, "undershoot").shortfall = share


def _hold_back(built: AsBuilt, pa: float) -> None:
    pump(built, "loaded-zero").held_pa = pa


def _trap(built: AsBuilt, share: float) -> None:
    pump(built, "trapped-gas").gas_share = share


def _stick(built: AsBuilt, _size: float) -> None:
    pump(built, "stuck-vent").vent_time_s = inf


def _cast(built: AsBuilt, elastic_modulus_pa: float) -> None:
    built.part.elastic_modulus_pa = elastic_modulus_pa
    built.part.poisson_ratio = IRON_POISSON_RATIO
    built.part.expansion_per_k = IRON_EXPANSION_PER_K


THIN_WALL = Planting(
    Flaw(
        name="thin-wall",
        meaning="The wall of the part is thinner than stated.",
        quantity="share of the wall that is missing",
        size="10 %",
        kind="ratio",
    ),
    _thin,
    highest=0.95,
)

YIELDING = Planting(
    Flaw(
        name="yielding",
        meaning="The material yields early, so that the part keeps a permanent set.",
        quantity="yield strength (equivalent stress in the middle of a wall; of a beam at its skin)",
        size="70 MPa",
        kind="stress",
    ),
    _weaken,
)

SLOW_LEAK = Planting(
    Flaw(
        name="slow-leak",
        meaning="A seal of the part seeps: shut in, it loses pressure in proportion to the pressure.",
        quantity="rate at which the pressure falls at the source's limit",
        size="0.05 bar/min",
        kind="pressure rate",
    ),
    _leak,
)

OVERSHOOT = Planting(
    Flaw(
        name="overshoot",
        meaning="The pressure source runs past its target before it comes back.",
        quantity="share of the target by which it runs past",
        size="10 %",
        kind="ratio",
    ),
    _overshoot,
)

UNDERSHOOT = Planting(
    Flaw(
        name="undershoot",
        meaning="The pressure source stops short of its target and says that it is there.",
        quantity="share of the target that is missing",
        size="3 %",
        kind="ratio",
    ),
    _undershoot,
    highest=0.95,
)

LOADED_ZERO = Planting(
    Flaw(
        name="loaded-zero",
        meaning="A blocked vent keeps pressure in the part, so that every zero is taken under load.",
        quantity="pressure that stays in the part",
        size="0.3 bar",
        kind="gauge pressure",
    ),
    _hold_back,
)

WRONG_MATERIAL = Planting(
    Flaw(
        name="wrong-material",
        meaning="The part is of nodular cast iron: elastic modulus, Poisson's ratio and expansion are not as stated.",
        quantity="its elastic modulus",
        size="169 GPa",
        kind="stress",
    ),
    _cast,
    lowest=1e9,
)

TRAPPED_GAS = Planting(
    Flaw(
        name="trapped-gas",
        meaning="The part was not filled to the top: air is left in it, which hides a leak and stores energy.",
        quantity="share of the part's volume that is air before the pressure comes",
        size="2 %",
        kind="ratio",
    ),
    _trap,
    highest=0.5,
)

STUCK_VENT = Planting(
    Flaw(
        name="stuck-vent",
        meaning="The vent of the pressure source sticks: told to vent it says that it did, and the pressure stays.",
        quantity="",
        size="",
        kind="",
    ),
    _stick,
)
