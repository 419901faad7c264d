"""The border inside the twin: what simulated instruments know of the world, and what they are told to look like.

Instruments (`instruments/`) call a `World`; the physics (`world.py`, `physics/`, `flaws/`) implements it and says by an
`Appearance` how each instrument departs from the truth. Values cross in base units: V/V, Ω, Pa, N, °C, V, s.
An input that nothing is wired to is an open circuit: it reads nan, and settings for it do nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
import numpy.typing as npt

from rigproof_twin.clock import VirtualClock

FloatArray = npt.NDArray[np.float64]


class WorldSource(Protocol):
    """What puts pressure on the part, as its controller sees it."""

    @property
    def enabled(self) -> bool:
        """True: pump enabled, vent shut. False: pump stopped, vent open."""

    @property
    def connected(self) -> bool:
        """True: the path from pump to part is open to flow."""

    @property
    def target_pa(self) -> float:
        """The gauge pressure it is told to reach."""

    @property
    def rate_pa_per_s(self) -> float:
        """The rate it is told to change pressure at."""

    def set_rate(self, pa_per_s: float) -> None:
        """Set the rate (> 0)."""

    def set_target(self, pa: float) -> None:
        """Set the target (gauge pressure, >= 0) and start towards it, if enabled."""

    def enable(self, on: bool) -> None:
        """False stops the pump and opens the vent: the safe state."""

    def connect(self, connected: bool) -> None:
        """Open (True) or shut (False) the path from pump to part."""

    def settling(self) -> bool:
        """True until the target is reached; False while not enabled."""

    def pressure_pa(self) -> float:
        """True gauge pressure at the source's own sensor, now."""


class WorldPress(Protocol):
    """What puts force on the part, as its controller sees it; of a shaft torque, in N·m for every N."""

    @property
    def enabled(self) -> bool:
        """True: the ram follows the target. False: it lets go."""

    @property
    def target_n(self) -> float:
        """The force it is told to reach."""

    @property
    def rate_n_per_s(self) -> float:
        """The rate it is told to change force at."""

    def set_rate(self, n_per_s: float) -> None:
        """Set the rate (> 0)."""

    def set_target(self, newton: float) -> None:
        """Set the target (>= 0) and start towards it, if enabled."""

    def enable(self, on: bool) -> None:
        """False lets the ram go: the safe state."""

    def settling(self) -> bool:
        """True until the target is reached; False while not enabled."""


class World(Protocol):
    """The truth, as it stands at the terminals of the instruments. Noise-free; `now` is the clock's."""

    @property
    def clock(self) -> VirtualClock:
        """The one clock of the bench."""

    @property
    def source(self) -> WorldSource:
        """The pressure source."""

    @property
    def press(self) -> WorldPress:
        """The press."""

    def bridge_output(self, inputs: Sequence[int], times_s: FloatArray) -> FloatArray:
        """Bridge output (V/V) at the amplifier's terminals, shape (len(times_s), len(inputs)); nan: open circuit.

        `times_s` ascend on the clock and may lie ahead of now: the amplifier samples first, then lets the time pass.
        """

    def close_shunt(self, channel_input: int, closed: bool) -> None:
        """Close or open the shunt relay across the active arm."""

    def set_excitation(self, channel_input: int, volt: float) -> None:
        """Feed the bridge of an input."""

    def resistance_ohm(self, channel_input: int) -> float:
        """Four-wire resistance at the ohmmeter's input; nan: open circuit."""

    def insulation_ohm(self, channel_input: int, volt: float) -> float:
        """Insulation resistance of a lead bundle against the part at a test voltage (sign = polarity)."""

    def temperature_c(self, channel_input: int) -> float:
        """Temperature at the thermometer's input."""

    def pressure_pa(self) -> float:
        """Gauge pressure at the transmitter, on the part."""

    def volume_m3(self) -> float:
        """Water that has gone into the part since it was full and without pressure, now."""

    def force_n(self) -> float:
        """Force on the part; of a shaft its torque (N·m)."""

    def rotate_to(self, angle_rad: float) -> None:
        """Turn the part about the axis of the load, from now on."""

    def rotated_rad(self) -> float:
        """How the part stands."""


@dataclass(frozen=True)
class Deviation:
    """How the readings of one input depart from the truth, in the unit of the reading.

    reading = truth·(1 + gain_error) + offset + zero_drift·(1 − exp(−t / drift_time)), then noise, then resolution.
    """

    gain_error: float = 0.0
    offset: float = 0.0
    zero_drift: float = 0.0  # what the zero has moved by in the end
    drift_time_s: float = 3600.0


@dataclass(frozen=True)
class Appearance:
    """What an instrument looks like from outside. `lower`..`upper` is the range; beyond it a reading is an overload."""

    maker: str
    model: str
    serial_number: str
    firmware: str
    latency_s: float = 0.0  # from the end of a query to the start of its reply, without measuring time
    noise: float = 0.0  # standard deviation of one reading, unit of the reading
    noise_relative: float = 0.0  # the same, as a share of the reading (added in quadrature)
    resolution: float = 0.0  # step of the reading; 0: as fine as the number format
    lower: float = float("-inf")
    upper: float = float("inf")
    rail: float = float("inf")  # its amplifier gives no more than this either way, and says nothing
    freezes_at_s: float = float("inf")  # from then on it repeats its last reading
    input_count: int = 4  # inputs 1..input_count exist, wired or not
    deviations: Mapping[int, Deviation] = field(default_factory=dict)  # by input; an input left out is true
