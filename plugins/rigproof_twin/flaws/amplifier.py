"""Flaws of the bridge amplifier."""

from __future__ import annotations

from dataclasses import replace

from rigproof.errors import UsageError
from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt
from rigproof_twin.flaws.planting import Planting, amplifiers, first_bridge, misread


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


def _gain(built: AsBuilt, share: float) -> None:
    for name, look in amplifiers(built, "wrong-gain").items():
        built.appearances[name] = misread(look, look.deviations, gain=1.0 + share)


def _induce(built: AsBuilt, amplitude: float) -> None:
    wired = amplifiers(built, "mains-pickup")
    for (instrument, _), port in built.bridges.items():
        if instrument in wired:
            port.pickup = amplitude


def _lower_the_rail(built: AsBuilt, output: float) -> None:
    for name, look in amplifiers(built, "saturation").items():
        built.appearances[name] = replace(look, rail=output)


def _coarsen(built: AsBuilt, step: float) -> None:
    for name, look in amplifiers(built, "coarse-range").items():
        built.appearances[name] = replace(look, resolution=step)


def _freeze(built: AsBuilt, moment_s: float) -> None:
    for name, look in amplifiers(built, "frozen-readings").items():
        built.appearances[name] = replace(look, freezes_at_s=moment_s)


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

WRONG_GAIN = Planting(
    Flaw(
        name="wrong-gain",
        meaning="The bridge amplifier's gain is not the one it was calibrated at.",
        quantity="how much it reads too high, of the reading",
        size="1 %",
        kind="ratio",
    ),
    _gain,
    lowest=-0.99,
)

MAINS_PICKUP = Planting(
    Flaw(
        name="mains-pickup",
        meaning="A loop in the cables picks up the mains: a ripple of 50 Hz lies on every reading of the bridges.",
        quantity="amplitude of the ripple",
        size="5 µV/V",
        kind="bridge output",
    ),
    _induce,
)

SATURATION = Planting(
    Flaw(
        name="saturation",
        meaning="The bridge amplifier is on too narrow a range: it stays at its rail and gives no warning.",
        quantity="output at which it stays, either way",
        size="0.3 mV/V",
        kind="bridge output",
    ),
    _lower_the_rail,
    lowest=1e-6,
)

COARSE_RANGE = Planting(
    Flaw(
        name="coarse-range",
        meaning="The bridge amplifier is on too wide a range: its readings come in coarse steps.",
        quantity="step of its readings",
        size="2.5 µV/V",
        kind="bridge output",
    ),
    _coarsen,
)

FROZEN_READINGS = Planting(
    Flaw(
        name="frozen-readings",
        meaning="The bridge amplifier hangs in the middle of the run and answers with its last readings ever after.",
        quantity="time after the start of the run",
        size="12 min",
        kind="time",
    ),
    _freeze,
)
