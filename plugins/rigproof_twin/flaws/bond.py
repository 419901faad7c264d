"""Flaws between gauge and part."""

from __future__ import annotations

from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt
from rigproof_twin.flaws.planting import Planting, first_gauge


def _soften(built: AsBuilt, share: float) -> None:
    first_gauge(built).give = share


def _lift(built: AsBuilt, share: float) -> None:
    first_gauge(built).transfer = 1.0 - share


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
