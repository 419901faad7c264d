"""Flaws of the instruments."""

from __future__ import annotations

from dataclasses import replace

from rigproof.errors import UsageError
from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt
from rigproof_twin.flaws.planting import Planting, first_bridge
from rigproof_twin.interface import Deviation


def _other_shunt(built: AsBuilt, share: float) -> None:
    if all(instrument in built.by_hand for instrument, _ in built.bridges):
        raise UsageError("flaw wrong-shunt: no amplifier of the rig has a shunt resistor. Choose another flaw.")
    for port in built.bridges.values():
        port.shunt_ohm *= 1.0 + share


def _run_away(built: AsBuilt, strain_per_s: float) -> None:
    _, port = first_bridge(built)
    # A quarter bridge of gauge factor GF puts out about GF/4 V/V per strain.
    port.zero_run_per_s = strain_per_s * built.gauges[port.gauge].gauge_factor / 4.0


def _die(built: AsBuilt, moment_s: float) -> None:
    instrument, _ = first_bridge(built)
    if instrument in built.by_hand:
        raise UsageError("flaw dead-instrument: the bridge is read by hand, and a person sees it. Choose another flaw.")
    built.dies_at_s[instrument] = moment_s


def _read_high(built: AsBuilt, share: float) -> None:
    for name in built.transmitters:
        look = built.appearances[name]
        wrong = {i: replace(d, gain_error=d.gain_error + share) for i, d in look.deviations.items()}
        built.appearances[name] = replace(look, deviations=wrong or {1: Deviation(gain_error=share)})
    if not built.transmitters:
        raise UsageError("flaw high-pressure-reading: the rig has no pressure transmitter. Choose another flaw.")


WRONG_SHUNT = Planting(
    Flaw(
        name="wrong-shunt",
        meaning="The calibration resistor in the amplifier is not the one the procedure states.",
        quantity="how much its resistance is above the stated one",
        size="2 %",
        kind="ratio",
    ),
    _other_shunt,
    lowest=-0.99,
)

DRIFTING_ZERO = Planting(
    Flaw(
        name="drifting-zero",
        meaning="The zero of the first input of the bridge amplifier runs away steadily.",
        quantity="strain per time by which it runs",
        size="60 µε/h",
        kind="strain rate",
    ),
    _run_away,
    lowest=-1.0,
)

DEAD_INSTRUMENT = Planting(
    Flaw(
        name="dead-instrument",
        meaning="The bridge amplifier falls silent in the middle of the run and stays so.",
        quantity="time after the start of the run",
        size="12 min",
        kind="time",
    ),
    _die,
)

HIGH_PRESSURE_READING = Planting(
    Flaw(
        name="high-pressure-reading",
        meaning="The pressure transmitter reads more than there is.",
        quantity="how much it reads too high, of the reading",
        size="15 %",
        kind="ratio",
    ),
    _read_high,
    lowest=-0.99,
)
