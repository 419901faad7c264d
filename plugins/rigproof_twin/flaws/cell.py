"""Flaws of a force cell and of how it stands in its press."""

from __future__ import annotations

from rigproof.errors import UsageError
from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt, Cell
from rigproof_twin.flaws.planting import Planting


def _cell(built: AsBuilt, flaw: str) -> Cell:
    if not isinstance(built.part, Cell):
        raise UsageError(f"flaw {flaw}: the part of the rig is no force cell. Choose another flaw.")
    return built.part


def _push_beside(built: AsBuilt, metre: float) -> None:
    _cell(built, "eccentric-load").eccentricity_m = metre


def _lag(built: AsBuilt, share: float) -> None:
    _cell(built, "hysteretic-body").hysteresis = share


ECCENTRIC_LOAD = Planting(
    Flaw(
        name="eccentric-load",
        meaning="The force acts beside the axis of the force cell, which bends: what it shows depends on how it is "
        "turned.",
        quantity="distance of the force from the axis",
        size="4 mm",
        kind="length",
    ),
    _push_beside,
)

HYSTERETIC_BODY = Planting(
    Flaw(
        name="hysteretic-body",
        meaning="Friction in a joint of the force cell's body makes it show more on the way down than on the way up.",
        quantity="width of the loop at half the rated load, as a share of the rated load",
        size="1 %",
        kind="ratio",
    ),
    _lag,
    highest=0.5,
)
