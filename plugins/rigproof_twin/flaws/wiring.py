"""Flaws of leads, plugs and insulation."""

from __future__ import annotations

from rigproof.errors import UsageError
from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt, Cell
from rigproof_twin.flaws.planting import Planting, first_bridge, first_gauge


def _leak(built: AsBuilt, ohm: float) -> None:
    first_gauge(built).insulation_ohm = ohm


def _swap(built: AsBuilt, _size: float) -> None:
    if len(built.bridges) < 2:
        raise UsageError("flaw swapped-channels: the rig has fewer than two strain channels. Choose another flaw.")
    one, other = list(built.bridges.values())[:2]
    one.gauge, other.gauge = other.gauge, one.gauge


def _swap_arms(built: AsBuilt, _size: float) -> None:
    gauge = first_gauge(built)
    if not (isinstance(built.part, Cell) or gauge.others):
        raise UsageError("flaw swapped-arms: the first strain channel has no full bridge. Choose another flaw.")
    gauge.arms_swapped = True


def _two_leads(built: AsBuilt, ohm: float) -> None:
    gauge = first_gauge(built)
    gauge.two_wires = True
    gauge.near_ohm = gauge.far_ohm = ohm


def _break(built: AsBuilt, moment_s: float) -> None:
    first_gauge(built).opens_at_s = moment_s


def _lengthen(built: AsBuilt, ohm: float) -> None:
    for gauge in built.gauges.values():
        gauge.near_ohm += ohm
        gauge.far_ohm += ohm
        gauge.signal_ohm += ohm


def _add_to_one(built: AsBuilt, ohm: float) -> None:
    first_gauge(built).near_ohm += ohm


def _corrode(built: AsBuilt, ohm: float) -> None:
    first_gauge(built).joint_ohm = ohm


def _cross(built: AsBuilt, _size: float) -> None:
    _, port = first_bridge(built)
    port.polarity = -port.polarity


LEAKAGE = Planting(
    Flaw(
        name="leakage",
        meaning="Moisture or flux under the cover of the first gauge: current leaks from the grid to the part.",
        quantity="insulation resistance that is left",
        size="100 MΩ",
        kind="insulation resistance",
    ),
    _leak,
    lowest=1.0,
)

SWAPPED_CHANNELS = Planting(
    Flaw(
        name="swapped-channels",
        meaning="The plugs of the first two strain channels are exchanged at the amplifier.",
        quantity="",
        size="",
        kind="",
    ),
    _swap,
)

SWAPPED_ARMS = Planting(
    Flaw(
        name="swapped-arms",
        meaning="The gauges of arms 1 and 2 of the first full bridge are wired into each other's, and one half works "
        "against the other.",
        quantity="",
        size="",
        kind="",
    ),
    _swap_arms,
)

TWO_LEADS = Planting(
    Flaw(
        name="two-leads",
        meaning="The first gauge is wired with two leads, both in series with it in its arm of the bridge.",
        quantity="resistance of each of the two",
        size="2.5 Ω",
        kind="resistance",
    ),
    _two_leads,
    lowest=1e-3,
)

OPEN_LEAD = Planting(
    Flaw(
        name="open-lead",
        meaning="A lead of the first gauge breaks in the middle of the run.",
        quantity="time after the start of the run",
        size="12 min",
        kind="time",
    ),
    _break,
)

LONG_LEADS = Planting(
    Flaw(
        name="long-leads",
        meaning="The cables of all gauges are longer than stated.",
        quantity="resistance that each conductor has on top of the stated one",
        size="2 Ω",
        kind="resistance",
    ),
    _lengthen,
)

UNEQUAL_LEADS = Planting(
    Flaw(
        name="unequal-leads",
        meaning="A bad crimp in one conductor of the first gauge: the two in opposite arms no longer cancel.",
        quantity="resistance of the crimp",
        size="1.5 Ω",
        kind="resistance",
    ),
    _add_to_one,
)

LOOSE_JOINT = Planting(
    Flaw(
        name="loose-joint",
        meaning="A dry joint in a conductor of the first gauge makes and breaks contact every few seconds.",
        quantity="resistance that it adds when bad",
        size="50 mΩ",
        kind="resistance",
    ),
    _corrode,
)

TURNED_SIGN = Planting(
    Flaw(
        name="turned-sign",
        meaning="The signal wires of the first strain channel are crossed: it shows tension as compression.",
        quantity="",
        size="",
        kind="",
    ),
    _cross,
)
