"""Four gauges of one part in the arms of a full bridge, at work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from rigproof_twin.as_built import Gauge, Shaft
from rigproof_twin.interface import FloatArray
from rigproof_twin.physics.cylinder import Response
from rigproof_twin.physics.full_bridge import FullBridge, between_supplies
from rigproof_twin.physics.gauge import REFERENCE_C, BondedGauge
from rigproof_twin.physics.history import Strained
from rigproof_twin.physics.shaft import PLACES_RAD

AS_WIRED, SWAPPED = [0, 1, 2, 3], [1, 0, 2, 3]


class FourGauges:
    """The gauges of arms 1 to 4, `arms`, and their cable, which is that of `gauge`; each sees its own response."""

    def __init__(self, gauge: Gauge, arms: Sequence[BondedGauge], responses: Sequence[Response]) -> None:
        self.rotated_rad = 0.0
        self._gauge = gauge
        self._arms = arms
        self._responses = [response.turned(gauge.angle_rad) for response in responses]

    def felt(self, state: Strained) -> Strained:
        """What the gauges' places go through; as the part, unless a body adds to it."""
        return state

    def responses(self) -> Sequence[Response]:
        """What each arm's gauge sees in the position the part stands in."""
        return self._responses

    def arms_ohm(self, state: Strained, temperature_c: FloatArray) -> FloatArray:
        """Resistances in the four arms, shape (times, 4); nan once one is open."""
        felt = self.felt(state)
        pairs = zip(self._arms, self.responses(), strict=True)
        gauges = np.stack([gauge.resistance_ohm(seen, felt, temperature_c) for gauge, seen in pairs], axis=1)
        return gauges[:, SWAPPED if self._gauge.arms_swapped else AS_WIRED]

    def between_supplies_ohm(self, state: Strained, temperature_c: FloatArray) -> FloatArray:
        """Resistance that an ohmmeter finds at the excitation wires, their own left out; shape (times,)."""
        return between_supplies(self.arms_ohm(state, temperature_c))

    def bridge_output(
        self, state: Strained, temperature_c: FloatArray, joint_ohm: FloatArray, shunt_s: float
    ) -> FloatArray:
        """Output (V/V) at the instrument, shape (times,); nan where a gauge is open."""
        arms = self.arms_ohm(state, temperature_c)
        whole = np.asarray(np.isfinite(arms).all(axis=1))
        gauge = self._gauge
        warmed = 1.0 + gauge.lead_per_k * (temperature_c - REFERENCE_C)
        network = FullBridge(
            arms_ohm=np.where(whole[:, np.newaxis], arms, 1.0),
            near_ohm=gauge.near_ohm * warmed + joint_ohm,
            far_ohm=gauge.far_ohm * warmed,
            signal_ohm=gauge.signal_ohm * warmed,
            leak_s=1.0 / gauge.insulation_ohm,
            shunt_s=shunt_s,
            sensed=gauge.sensed,
        )
        return np.where(whole, network.output(), np.nan)


def on_shaft(shaft: Shaft, gauge: Gauge) -> FourGauges:
    """Arms 1 and 3 at the place of the gauge, 2 and 4 across; each was bonded by itself."""
    (across,) = PLACES_RAD.keys() - {gauge.place}
    arms = [
        replace(gauge, bonding_strain=strain).build(shaft.expansion_per_k)
        for strain in (gauge.bonding_strain, *gauge.others)
    ]
    return FourGauges(gauge, arms, [shaft.response(place) for place in (gauge.place, across) * 2])
