"""What is plugged into some inputs of a bridge amplifier, as arrays ready to be solved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import tau
from typing import Self

import numpy as np
import numpy.typing as npt

from rigproof_twin.as_built import MAINS_HZ, BridgeInput, Gauge
from rigproof_twin.interface import FloatArray
from rigproof_twin.physics.gauge import REFERENCE_C
from rigproof_twin.physics.network import QuarterBridge


@dataclass(frozen=True)
class Ports:
    """Arrays of shape (inputs,)."""

    gauges: tuple[str, ...]
    near_ohm: FloatArray  # conductors at the reference temperature
    far_ohm: FloatArray
    signal_ohm: FloatArray
    lead_per_k: FloatArray
    third_wire: FloatArray  # 1 where there is one, else 0
    completion_ohm: FloatArray
    half_ratio: FloatArray
    zero_run_per_s: FloatArray
    polarity: FloatArray
    pickup: FloatArray  # V/V
    leak_s: FloatArray
    shunt_s: FloatArray  # when closed

    @classmethod
    def of(cls, inputs: Sequence[BridgeInput], gauges: Sequence[Gauge]) -> Self:
        """Amplifier inputs and the gauges plugged into them, in the same order."""
        return cls(
            gauges=tuple(port.gauge for port in inputs),
            near_ohm=np.array([gauge.near_ohm for gauge in gauges]),
            far_ohm=np.array([gauge.far_ohm for gauge in gauges]),
            signal_ohm=np.array([gauge.signal_ohm for gauge in gauges]),
            lead_per_k=np.array([gauge.lead_per_k for gauge in gauges]),
            third_wire=np.array([0.0 if gauge.two_wires else 1.0 for gauge in gauges]),
            completion_ohm=np.array([port.completion_ohm for port in inputs]),
            half_ratio=np.array([port.half_ratio for port in inputs]),
            zero_run_per_s=np.array([port.zero_run_per_s for port in inputs]),
            polarity=np.array([port.polarity for port in inputs]),
            pickup=np.array([port.pickup for port in inputs]),
            leak_s=np.array([1.0 / gauge.insulation_ohm for gauge in gauges]),
            shunt_s=np.array([1.0 / port.shunt_ohm for port in inputs]),
        )

    def output(
        self,
        gauge_ohm: FloatArray,
        joint_ohm: FloatArray | float,
        shunted: npt.NDArray[np.bool_],
        times_s: FloatArray,
        temperature_c: FloatArray,
    ) -> FloatArray:
        """Bridge output (V/V) for gauges and joints (times, inputs) at times and temperatures of shape (times,)."""
        whole = np.isfinite(gauge_ohm)
        if not whole.all():
            seen = self.output(np.where(whole, gauge_ohm, 1.0), joint_ohm, shunted, times_s, temperature_c)
            return np.where(whole, seen, np.nan)
        warmed = 1.0 + self.lead_per_k * (temperature_c - REFERENCE_C)[:, None]
        network = QuarterBridge(
            gauge_ohm=gauge_ohm,
            near_ohm=self.near_ohm * warmed + joint_ohm,
            far_ohm=self.far_ohm * warmed,
            signal_ohm=self.signal_ohm * warmed,
            third_wire=self.third_wire,
            completion_ohm=self.completion_ohm,
            half_ratio=self.half_ratio - self.zero_run_per_s * times_s[:, None],
            leak_s=self.leak_s,
            shunt_s=self.shunt_s * shunted,
        )
        seen = self.polarity * network.output()
        if self.pickup.any():
            seen += self.pickup * np.sin(tau * MAINS_HZ * times_s)[:, None]
        return seen
