"""Flaws of the part and of what puts it under pressure."""

from __future__ import annotations

from math import inf, isfinite

from rigproof.errors import UsageError
from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt, Part
from rigproof_twin.flaws.planting import Planting


def _thin(built: AsBuilt, share: float) -> None:
    if not isinstance(built.part, Part):
        raise UsageError("flaw thin-wall: the part of the rig has no wall. Choose another flaw.")
    built.part.wall_m *= 1.0 - share


def _weaken(built: AsBuilt, yield_pa: float) -> None:
    built.part.yield_strength_pa = yield_pa


def _leak(built: AsBuilt, pa_per_s: float) -> None:
    if not isfinite(built.source.limit_pa):
        raise UsageError("flaw slow-leak: the rig has no pressure source. Choose another flaw.")
    # Laminar: the flow through a narrow gap is in proportion to the pressure.
    built.source.leak_time_s = built.source.limit_pa / pa_per_s if pa_per_s else inf


def _overshoot(built: AsBuilt, share: float) -> None:
    if not isfinite(built.source.limit_pa):
        raise UsageError("flaw overshoot: the rig has no pressure source. Choose another flaw.")
    built.source.overshoot = share


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
        quantity="yield strength (equivalent stress in the middle of the wall)",
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
