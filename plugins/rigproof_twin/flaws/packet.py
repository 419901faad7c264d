"""Flaws of the gauges themselves."""

from __future__ import annotations

from math import inf

from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt
from rigproof_twin.flaws.planting import Planting, first_gauge


def _other_packet(built: AsBuilt, share: float) -> None:
    for gauge in built.gauges.values():
        gauge.gauge_factor *= 1.0 + share


def _damage(built: AsBuilt, share: float) -> None:
    first_gauge(built).packet_ohm *= 1.0 + share


WRONG_GAUGE_FACTOR = Planting(
    Flaw(
        name="wrong-gauge-factor",
        meaning="The gauges come from another packet than the rig's document states: their gauge factor is higher.",
        quantity="how much the true gauge factor is above the stated one",
        size="12 %",
        kind="ratio",
    ),
    _other_packet,
    lowest=-0.9,
    highest=inf,
)

DAMAGED_GRID = Planting(
    Flaw(
        name="damaged-grid",
        meaning="The grid of the first gauge is nicked or was overheated in soldering: its resistance has risen.",
        quantity="rise of the gauge's resistance",
        size="1 %",
        kind="ratio",
    ),
    _damage,
)
