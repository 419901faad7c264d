"""Flaws between gauge and part."""

from __future__ import annotations

from math import pi

from rigproof.errors import UsageError
from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt, Beam
from rigproof_twin.flaws.planting import Planting, first_gauge


def _soften(built: AsBuilt, share: float) -> None:
    first_gauge(built).give = share


def _lift(built: AsBuilt, share: float) -> None:
    first_gauge(built).transfer = 1.0 - share


def _turn(built: AsBuilt, rad: float) -> None:
    for gauge in built.gauges.values():
        gauge.angle_rad = rad


def _shift(built: AsBuilt, metre: float) -> None:
    if not isinstance(built.part, Beam):
        raise UsageError("flaw misplaced-gauges: the strain of the part does not change along it. Choose another flaw.")
    built.part.gauge_distance_m += metre


SOFT_BOND = Planting(
    Flaw(
        name="soft-bond",
        meaning="The adhesive under the first gauge is not cured: it gives way under load within minutes and the zero "
        "comes back as slowly.",
        quantity="share of the strain that the bond gives up in time",
        size="5 %",
        kind="ratio",
    ),
    _soften,
    highest=1.0,
)

LOOSE_GAUGE = Planting(
    Flaw(
        name="loose-gauge",
        meaning="A void under the first gauge keeps part of the strain from the grid, at once and always.",
        quantity="share of the strain that does not reach the grid; 100 % is a gauge that has come off",
        size="15 %",
        kind="ratio",
    ),
    _lift,
    highest=1.0,
)

MISALIGNED_GAUGES = Planting(
    Flaw(
        name="misaligned-gauges",
        meaning="The gauges were laid by a line that is off: all are turned against their axes.",
        quantity="angle between grid and axis",
        size="13°",
        kind="angle",
    ),
    _turn,
    lowest=-pi / 2,
    highest=pi / 2,
)

MISPLACED_GAUGES = Planting(
    Flaw(
        name="misplaced-gauges",
        meaning="The gauges of a bending beam sit further from the clamp than stated.",
        quantity="how much further",
        size="25 mm",
        kind="length",
    ),
    _shift,
)
