"""Thermal output: what an unloaded gauge shows when its temperature changes.

Strains as an instrument set to some gauge factor shows them; temperatures in °C, expansions in 1/K. Floats or arrays of
equal shape. Relations derived in trade.md 2.6; ASTM E251 and OIML R 62 name the quantity.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rigproof.errors import NumberError
from rigproof.models import Numbers
from rigproof_strain import checks
from rigproof_strain.transverse import CALIBRATION_POISSON


def of_grid(
    resistance_per_k: Numbers,
    gauge_factor: Numbers,
    part_per_k: Numbers,
    grid_per_k: Numbers,
    rise_k: Numbers,
    kt: Numbers = 0.0,
    nu0: float = CALIBRATION_POISSON,
) -> Numbers:
    """Thermal output of a plain grid: [b/GF + (a_part - a_grid)(1 + Kt)/(1 - nu0 Kt)] dT.

    `resistance_per_k` b is the temperature coefficient of the grid's resistance. The part's expansion less the grid's
    strains the grid in every direction, so that it answers by 1 + Kt.
    """
    checks.positive("gauge_factor", gauge_factor, "give the one the instrument is set to, about 2 for metal foil")
    checks.transverse(kt)
    stretch_per_k = (part_per_k - grid_per_k) * (1 + kt) / (1 - nu0 * kt)
    return (resistance_per_k / gauge_factor + stretch_per_k) * rise_k


def mismatch(
    part_per_k: Numbers,
    compensated_per_k: Numbers,
    rise_k: Numbers,
    kt: Numbers = 0.0,
    nu0: float = CALIBRATION_POISSON,
) -> Numbers:
    """Thermal output of a gauge compensated for another material: (a_part - a_compensated)(1 + Kt)/(1 - nu0 Kt) dT.

    `of_grid` less the same on the material it is trimmed for. It adds to the lot's own curve, which is near zero only
    there.
    """
    checks.transverse(kt)
    return (part_per_k - compensated_per_k) * (1 + kt) / (1 - nu0 * kt) * rise_k


def rescaled(strain: Numbers, stated_factor: Numbers, set_factor: Numbers) -> Numbers:
    """Thermal output stated for one gauge factor, as an instrument set to another shows it: e F*/F."""
    checks.positive("stated_factor", stated_factor, "give the gauge factor the curve is stated for")
    checks.positive("set_factor", set_factor, "give the gauge factor the instrument is set to")
    return strain * stated_factor / set_factor


@dataclass(frozen=True, slots=True)
class ThermalOutput:
    """The curve of a lot: strain = c0 + c1 T + c2 T² + … (T in °C, as packets print it), for `stated_factor`.

    Good from `lowest_c` to `highest_c` and not a kelvin further: such polynomials run away outside. Raises NumberError
    for coefficients that are no numbers, a gauge factor of 0 or less and an empty range.
    """

    coefficients: Sequence[float]
    stated_factor: float
    lowest_c: float
    highest_c: float

    def __post_init__(self) -> None:
        if not self.coefficients:
            raise NumberError("coefficients=(): a curve needs at least one; give those of the packet")
        for power, coefficient in enumerate(self.coefficients):
            checks.finite(f"c{power}", coefficient, "give the packet's, in strain per °C to that power")
        checks.positive("stated_factor", self.stated_factor, "give the gauge factor the curve is stated for")
        if not self.lowest_c < self.highest_c:
            raise NumberError(
                f"lowest_c={self.lowest_c:g}, highest_c={self.highest_c:g}: the range is empty; "
                "give the temperatures the packet's curve covers, the lower first"
            )

    def at(self, celsius: Numbers, set_factor: Numbers) -> Numbers:
        """Thermal output at `celsius`, as an instrument set to `set_factor` shows it."""
        if not np.all((celsius >= self.lowest_c) & (celsius <= self.highest_c)):
            raise NumberError(
                f"celsius={celsius}: the lot's curve holds from {self.lowest_c:g} °C to {self.highest_c:g} °C; "
                "measure the output at that temperature instead"
            )
        strain: Numbers = 0.0
        for coefficient in reversed(self.coefficients):
            strain = strain * celsius + coefficient
        return rescaled(strain, self.stated_factor, set_factor)

    def between(self, start_c: Numbers, end_c: Numbers, set_factor: Numbers) -> Numbers:
        """Change of the thermal output from `start_c`, where the bridge was balanced, to `end_c`."""
        return self.at(end_c, set_factor) - self.at(start_c, set_factor)
