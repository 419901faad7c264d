"""A world that stands still: constants at every terminal, to try drivers and the wire without any physics."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import nan

import numpy as np

from rigproof_twin.clock import VirtualClock
from rigproof_twin.interface import FloatArray


@dataclass
class StillSource:
    """A source that is at its target at once, unless `busy`."""

    enabled: bool = False
    connected: bool = True
    target_pa: float = 0.0
    rate_pa_per_s: float = 1e4
    busy: bool = False

    def set_rate(self, pa_per_s: float) -> None:
        """Note the rate."""
        self.rate_pa_per_s = pa_per_s

    def set_target(self, pa: float) -> None:
        """Note the target."""
        self.target_pa = pa

    def enable(self, on: bool) -> None:
        """Note whether it is on."""
        self.enabled = on

    def connect(self, connected: bool) -> None:
        """Note the valve."""
        self.connected = connected

    def settling(self) -> bool:
        """What `busy` says."""
        return self.enabled and self.busy

    def pressure_pa(self) -> float:
        """The target while enabled, else 0."""
        return self.target_pa if self.enabled else 0.0


@dataclass
class StillPress:
    """A press that is at its target at once."""

    enabled: bool = False
    target_n: float = 0.0
    rate_n_per_s: float = 100.0

    def set_rate(self, n_per_s: float) -> None:
        """Note the rate."""
        self.rate_n_per_s = n_per_s

    def set_target(self, newton: float) -> None:
        """Note the target."""
        self.target_n = newton

    def enable(self, on: bool) -> None:
        """Note whether it is on."""
        self.enabled = on

    def settling(self) -> bool:
        """Never."""
        return False


@dataclass
class StillWorld:
    """A `rigproof_twin.interface.World` of constants, by input; an input that is not in the tables reads nan."""

    clock: VirtualClock = field(default_factory=VirtualClock)
    source: StillSource = field(default_factory=StillSource)
    press: StillPress = field(default_factory=StillPress)
    bridge_vv: dict[int, float] = field(default_factory=lambda: {1: 1.25e-4, 2: -3.5e-5})
    shunt_vv: float = -5e-4  # what a closed shunt adds
    resistances_ohm: dict[int, float] = field(default_factory=lambda: {1: 350.0, 2: 350.5, 3: 107.79})
    insulations_ohm: dict[int, float] = field(default_factory=lambda: {1: 2e10, 2: 5e7})
    temperatures_c: dict[int, float] = field(default_factory=lambda: {1: 20.0})
    shunted: set[int] = field(default_factory=set)
    excitation_v: dict[int, float] = field(default_factory=dict)
    taken_in_m3: float = 0.0
    turned_rad: float = 0.0

    def bridge_output(self, inputs: Sequence[int], times_s: FloatArray) -> FloatArray:
        """The constants, repeated for each time."""
        row = [self.bridge_vv.get(i, nan) + self.shunt_vv * (i in self.shunted) for i in inputs]
        return np.tile(np.array(row, dtype=np.float64), (len(times_s), 1))

    def close_shunt(self, channel_input: int, closed: bool) -> None:
        """Note the relay."""
        (self.shunted.add if closed else self.shunted.discard)(channel_input)

    def set_excitation(self, channel_input: int, volt: float) -> None:
        """Note the voltage, which changes nothing here."""
        self.excitation_v[channel_input] = volt

    def resistance_ohm(self, channel_input: int) -> float:
        """The constant."""
        return self.resistances_ohm.get(channel_input, nan)

    def insulation_ohm(self, channel_input: int, volt: float) -> float:  # noqa: ARG002  the same at any voltage
        """The constant."""
        return self.insulations_ohm.get(channel_input, nan)

    def temperature_c(self, channel_input: int) -> float:
        """The constant."""
        return self.temperatures_c.get(channel_input, nan)

    def pressure_pa(self) -> float:
        """The source's pressure, as long as it is connected."""
        return self.source.pressure_pa() if self.source.connected else 0.0

    def volume_m3(self) -> float:
        """The constant."""
        return self.taken_in_m3

    def force_n(self) -> float:
        """The target of the press while it is enabled, else 0."""
        return self.press.target_n if self.press.enabled else 0.0

    def rotate_to(self, angle_rad: float) -> None:
        """Note the angle."""
        self.turned_rad = angle_rad

    def rotated_rad(self) -> float:
        """The angle noted."""
        return self.turned_rad
