"""The industrial platinum thermometer (IEC 60751:2022, reference function; constants seen, clause not at hand)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

import numpy as np
import numpy.typing as npt

from rigproof.models import Numbers, ReductionModel
from rigproof.quantities import Uncertain, parse_uncertain, uncertain
from rigproof.uncertainty import Input

if TYPE_CHECKING:
    from rigproof.documents.rig import Gauge

FloatArray = npt.NDArray[np.float64]

A = 3.9083e-3  # 1/°C
B = -5.775e-7  # 1/°C²
C = -4.183e-12  # 1/°C⁴, below 0 °C only
LOWEST_C, HIGHEST_C = -200.0, 850.0

# Limits of the tolerance classes: (constant, share of |t|), °C.
CLASSES = {"AA": (0.10, 0.0017), "A": (0.15, 0.002), "B": (0.30, 0.005)}
ToleranceClass = Literal["AA", "A", "B"]


class Pt100(ReductionModel):
    """Resistance (four-wire) to temperature. Without `tolerance class` the sensor itself is taken as true."""

    kind: ClassVar[str] = "Pt100"
    takes: ClassVar[str] = "resistance"
    gives: ClassVar[str] = "temperature"
    gauges: ClassVar[int] = 0

    r0: Annotated[Uncertain, uncertain("resistance", above="0 Ω")] = parse_uncertain("100 Ω", "resistance")
    """Resistance of the sensor at 0 °C."""
    tolerance_class: ToleranceClass | None = None
    """Class of the sensor (IEC 60751); left out, the sensor is taken as true."""

    def inputs(self, gauges: Sequence[Gauge]) -> tuple[Input, ...]:  # noqa: ARG002  it needs none
        """Resistance at 0 °C (Ω); with a class also the sensor's deviation, as a share of the class limit (±1)."""
        r0 = self.r0.input("r0")
        if self.tolerance_class is None:
            return (r0,)
        return r0, Input.limits("deviation of the sensor", 0.0, 1.0, unit="1")

    def reduce(self, reading: Numbers, zero: Numbers, *inputs: Numbers) -> Numbers:  # noqa: ARG002  °C has its own zero
        """Temperature (°C, ITS-90) at the resistance `reading` (Ω); nan outside -200 °C to 850 °C, as if open."""
        nominal = temperature_c(reading / inputs[0])
        if self.tolerance_class is None:
            return nominal
        constant, share = CLASSES[self.tolerance_class]
        return nominal + inputs[1] * (constant + share * np.abs(nominal))


def resistance_ratio(celsius: Numbers) -> Numbers:
    """R(t)/R(0 °C): 1 + A t + B t² from 0 °C, and + C (t - 100 °C) t³ below."""
    below: Numbers = np.minimum(celsius, 0.0)
    return 1 + celsius * (A + B * celsius) + C * (below - 100) * below**3


def temperature_c(ratio: Numbers) -> Numbers:
    """Temperature (°C) at R/R(0 °C): the inverse of `resistance_ratio`, nan outside its range.

    From 0 °C the root of the quadratic, in the form in which nothing cancels; below, Newton steps from there.
    """
    rise = np.asarray(ratio, dtype=np.float64) - 1
    with np.errstate(invalid="ignore"):  # beyond the top of the parabola there is no root: nan
        t = 2 * rise / (A + np.sqrt(A**2 + 4 * B * rise))
    cold = t < 0
    if np.any(cold):
        t = np.where(cold, _refined(t, rise), t)
    # Half a step of the last place, so that the ends of the range do not fall out by rounding.
    t = np.where((t > LOWEST_C - 1e-9) & (t < HIGHEST_C + 1e-9), t, np.nan)
    return float(t) if np.ndim(ratio) == 0 else t


def _refined(celsius: FloatArray, rise: FloatArray) -> FloatArray:
    """Temperatures below 0 °C, from those that the quadratic gives: Newton's method on `resistance_ratio`."""
    t = celsius
    for _ in range(4):  # the start is within 3 °C at -200 °C; each step squares the error
        slope = A + 2 * B * t + C * (4 * t - 300) * t**2
        t = t - (t * (A + B * t) + C * (t - 100) * t**3 - rise) / slope
    return t
