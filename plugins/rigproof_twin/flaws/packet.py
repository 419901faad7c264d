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


def _other_resistance(built: AsBuilt, ohm: float) -> None:
    first_gauge(built).packet_ohm = ohm


def _compensate_otherwise(built: AsBuilt, per_k: float) -> None:
    for gauge in built.gauges.values():
        gauge.compensated_for_per_k = per_k


def _heat(built: AsBuilt, kelvin: float) -> None:
    for gauge in built.gauges.values():
        gauge.heating_k = kelvin


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

OTHER_RESISTANCE = Planting(
    Flaw(
        name="other-resistance",
        meaning="The first gauge comes from a packet of another resistance.",
        quantity="its resistance",
        size="120 Ω",
        kind="resistance",
    ),
    _other_resistance,
    lowest=1.0,
)

THERMAL_MISMATCH = Planting(
    Flaw(
        name="thermal-mismatch",
        meaning="The gauges are compensated for another material than stated, such as aluminium.",
        quantity="expansion of the material they are made for",
        size="23 ppm/K",
        kind="expansion",
    ),
    _compensate_otherwise,
)

SELF_HEATING = Planting(
    Flaw(
        name="self-heating",
        meaning="The excitation is too much for the gauges in their place: the grids warm up for minutes.",
        quantity="how much warmer than the part they are in the end",
        size="20 K",
        kind="temperature difference",
    ),
    _heat,
)
