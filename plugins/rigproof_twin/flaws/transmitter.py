"""Flaws of the pressure transmitter."""

from __future__ import annotations

from dataclasses import replace
from math import inf

from rigproof.errors import UsageError
from rigproof.simulation import Flaw
from rigproof_twin.as_built import AsBuilt
from rigproof_twin.flaws.planting import Planting, misread


def _read(built: AsBuilt, flaw: str, gain: float = 1.0, offset: float = 0.0) -> None:
    if not built.transmitters:
        raise UsageError(f"flaw {flaw}: the rig has no pressure transmitter. Choose another flaw.")
    for name in built.transmitters:
        look = built.appearances[name]
        pressures = [i for i in look.deviations if (name, i) not in built.thermometers]
        built.appearances[name] = misread(look, pressures, gain, offset)


def _read_high(built: AsBuilt, share: float) -> None:
    _read(built, "high-pressure-reading", gain=1.0 + share)


def _shift(built: AsBuilt, pa: float) -> None:
    _read(built, "transmitter-offset", offset=pa)


def _take_for_another(built: AsBuilt, factor: float) -> None:
    _read(built, "unit-slip", gain=factor)


def _freeze(built: AsBuilt, moment_s: float) -> None:
    if not built.transmitters:
        raise UsageError("flaw frozen-transmitter: the rig has no pressure transmitter. Choose another flaw.")
    for name in built.transmitters:
        built.appearances[name] = replace(built.appearances[name], freezes_at_s=moment_s)


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

TRANSMITTER_OFFSET = Planting(
    Flaw(
        name="transmitter-offset",
        meaning="The zero of the pressure transmitter is off.",
        quantity="what it reads without pressure",
        size="0.3 bar",
        kind="gauge pressure",
    ),
    _shift,
    lowest=-inf,
)

UNIT_SLIP = Planting(
    Flaw(
        name="unit-slip",
        meaning="The pressure transmitter gives psi where bar is stated.",
        quantity="units that it gives for one that is stated",
        size="14.504",
        kind="number",
    ),
    _take_for_another,
    lowest=1e-6,
)

FROZEN_TRANSMITTER = Planting(
    Flaw(
        name="frozen-transmitter",
        meaning="The pressure transmitter hangs and answers with its last reading ever after.",
        quantity="time after the start of the run",
        size="1 min",
        kind="time",
    ),
    _freeze,
)
