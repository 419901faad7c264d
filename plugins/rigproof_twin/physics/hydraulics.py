"""The pressure source, its valves and the pressure in the part, as closed forms of time.

Each command starts a new phase for the source and for the part; a phase gives the pressure at any time after its start.
So nothing is integrated, and it cannot matter when or how often somebody looks. All pressures are gauge, in Pa.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from math import copysign
from typing import Protocol

import numpy as np
import numpy.typing as npt

from rigproof.clock import Clock
from rigproof.errors import NumberError
from rigproof_twin.physics.thermal import TemperatureCourse

FloatArray = npt.NDArray[np.float64]


class Phase(Protocol):
    """Pressure from a moment on, until the next phase."""

    def at(self, times_s: FloatArray) -> FloatArray:
        """Pressure at times on the clock, none before the phase began; same shape."""


@dataclass(frozen=True)
class Ramp:
    """The pump drives the pressure at a steady rate, runs past the target a little, and comes back exponentially."""

    start_s: float
    start_pa: float
    target_pa: float
    rate_pa_per_s: float
    overshoot: float  # share of the target
    time_constant_s: float

    @cached_property
    def near_pa(self) -> float:
        """How close to its target the source says that it is there."""
        return 100.0 + 1e-4 * abs(self.target_pa)

    @cached_property
    def turn_pa(self) -> float:
        """Where the steady rate ends."""
        way = self.target_pa - self.start_pa
        if abs(way) <= self.near_pa:
            return self.start_pa
        return self.target_pa + copysign(self.overshoot * self.target_pa, way)

    @cached_property
    def turn_s(self) -> float:
        """When the steady rate ends."""
        return self.start_s + abs(self.turn_pa - self.start_pa) / self.rate_pa_per_s

    def at(self, times_s: FloatArray) -> FloatArray:
        """Straight up to the turn, exponential after."""
        share = np.minimum((times_s - self.start_s) / max(self.turn_s - self.start_s, 1e-12), 1.0)
        rising = self.start_pa + (self.turn_pa - self.start_pa) * share
        back = np.exp(np.minimum((self.turn_s - times_s) / self.time_constant_s, 0.0))
        after = self.target_pa + (self.turn_pa - self.target_pa) * back
        return np.where(times_s < self.turn_s, rising, after)

    def settling(self, now_s: float) -> bool:
        """True until the pressure is near the target to stay."""
        return now_s < self.turn_s or abs(float(self.at(np.asarray(now_s))) - self.target_pa) > self.near_pa


@dataclass(frozen=True)
class Vented:
    """The vent is open: the pressure goes to that of the air, exponentially."""

    start_s: float
    start_pa: float
    time_constant_s: float

    def at(self, times_s: FloatArray) -> FloatArray:
        """Exponential decay to 0."""
        return np.asarray(self.start_pa * np.exp(-(times_s - self.start_s) / self.time_constant_s))


@dataclass(frozen=True)
class ShutIn:
    """The part is shut off full of water: its pressure follows the temperature, and leaks away in proportion to itself.

    dp/dt = coupling dT/dt - p/leak_time; an infinite leak time means tight.
    """

    start_s: float
    start_pa: float
    coupling_pa_per_k: float
    course: TemperatureCourse
    leak_time_s: float

    def at(self, times_s: FloatArray) -> FloatArray:
        """The solution of the equation above."""
        kept = self.start_pa * np.exp(-(times_s - self.start_s) / self.leak_time_s)
        return kept + self.coupling_pa_per_k * self.course.faded_rise(self.start_s, times_s, self.leak_time_s)


@dataclass
class Timeline:
    """Phases one after the other, each in force from its own moment."""

    starts_s: list[float] = field(default_factory=list)
    phases: list[Phase] = field(default_factory=list)

    def begin(self, now_s: float, phase: Phase) -> None:
        """Let `phase` rule from now on."""
        if self.starts_s and self.starts_s[-1] == now_s:
            self.phases[-1] = phase
            return
        self.starts_s.append(now_s)
        self.phases.append(phase)

    def at(self, times_s: FloatArray) -> FloatArray:
        """Pressure at ascending times, shape (n,)."""
        if times_s.size == 0 or times_s[0] >= self.starts_s[-1]:
            return self.phases[-1].at(times_s)
        ruling = np.searchsorted(self.starts_s, times_s, side="right") - 1
        values = np.empty_like(times_s)
        for index in np.unique(ruling):
            chosen = ruling == index
            values[chosen] = self.phases[index].at(times_s[chosen])
        return values

    def kinks(self, after_s: float, until_s: float) -> list[float]:
        """Moments in (after, until] at which the course of the pressure breaks, ascending."""
        first = max(0, bisect_right(self.starts_s, after_s) - 1)
        found = {start for start in self.starts_s[first:] if after_s < start <= until_s}
        for index in range(first, len(self.phases)):
            phase = self.phases[index]
            begins = self.starts_s[index]  # a part may join the course of a pump that has turned long before
            ends = self.starts_s[index + 1] if index + 1 < len(self.phases) else np.inf
            if isinstance(phase, Ramp) and max(after_s, begins) < phase.turn_s <= until_s and phase.turn_s < ends:
                found.add(phase.turn_s)
        return sorted(found)


@dataclass(frozen=True)
class Plumbing:
    """How source and part behave."""

    time_constant_s: float
    overshoot: float  # share of the target
    vent_time_s: float
    leak_time_s: float  # infinite: tight
    coupling_pa_per_k: Callable[[float], float]  # of the shut-in part, from its temperature (°C)
    shortfall: float = 0.0  # share of the target by which the controller stays below, and takes itself to be there
    held_pa: float = 0.0  # below it the part does not empty
    stiffness: Callable[[float], float] = lambda _pa: 1.0  # share of a filled part's own, at a pressure (Pa)


class Hydraulics:
    """Source, path to the part and vent; a `WorldSource`. The vent lies on the part's side."""

    def __init__(self, clock: Clock, course: TemperatureCourse, plumbing: Plumbing) -> None:
        self._clock = clock
        self._course = course
        self._plumbing = plumbing
        self.enabled = False
        self.connected = True
        self.target_pa = 0.0
        self.rate_pa_per_s = 1e4
        now = clock.now()
        self._source: Ramp | Vented = self._vent(now, 0.0)
        self._part = Timeline()
        self._part.begin(now, self._source)

    def set_rate(self, pa_per_s: float) -> None:
        """Change the rate (> 0), also of a movement under way; `NumberError` otherwise."""
        if not 0.0 < pa_per_s < np.inf:
            raise NumberError(f"rate={pa_per_s} Pa/s: a rate of pressure is above 0. Give a positive one.")
        if pa_per_s != self.rate_pa_per_s:
            self.rate_pa_per_s = pa_per_s
            self._drive()

    def set_target(self, pa: float) -> None:
        """Set the target (>= 0); move there if enabled. `NumberError` otherwise."""
        if not 0.0 <= pa < np.inf:
            raise NumberError(f"target={pa} Pa: the source cannot draw a vacuum. Give 0 or more.")
        if pa != self.target_pa:
            self.target_pa = pa
            self._drive()

    def enable(self, on: bool) -> None:
        """Start the pump with the vent shut, or stop it and open the vent."""
        if on == self.enabled:
            return
        now = self._clock.now()
        part_pa, source_pa = self.part_pa_now(), self.pressure_pa()
        self.enabled = on
        if on:
            self._source = self._ramp(now, source_pa)
            self._part.begin(now, self._source if self.connected else self._shut_in(now, part_pa))
        else:
            self._source = self._vent(now, source_pa)
            self._part.begin(now, self._vent(now, part_pa))

    def connect(self, connected: bool) -> None:
        """Open or shut the path. Opening it, the part takes the source's pressure at once."""
        if connected == self.connected:
            return
        self.connected = connected
        if self.enabled:
            now = self._clock.now()
            self._part.begin(now, self._source if connected else self._shut_in(now, self.part_pa_now()))

    def settling(self) -> bool:
        """True until the target is reached; False while not enabled."""
        return isinstance(self._source, Ramp) and self._source.settling(self._clock.now())

    def pressure_pa(self) -> float:
        """Pressure at the source's own sensor, now."""
        return float(self._source.at(np.asarray(self._clock.now())))

    def part_pa_now(self) -> float:
        """Pressure in the part, now."""
        return float(self.on_part(np.array([self._clock.now()]))[0])

    def on_part(self, times_s: FloatArray) -> FloatArray:
        """Pressure in the part at ascending times, shape (n,); later than now: if no command comes in between."""
        return np.maximum(self._part.at(times_s), self._plumbing.held_pa)

    def kinks(self, after_s: float, until_s: float) -> list[float]:
        """Moments in (after, until] at which the part's pressure breaks its course, ascending."""
        return self._part.kinks(after_s, until_s)

    def _drive(self) -> None:
        """Start from where the source is now towards the target, if it runs."""
        if self.enabled:
            now = self._clock.now()
            self._source = self._ramp(now, self.pressure_pa())
            if self.connected:
                self._part.begin(now, self._source)

    def _ramp(self, now_s: float, start_pa: float) -> Ramp:
        plumbing = self._plumbing
        target = self.target_pa * (1.0 - plumbing.shortfall)
        return Ramp(now_s, start_pa, target, self.rate_pa_per_s, plumbing.overshoot, plumbing.time_constant_s)

    def _vent(self, now_s: float, start_pa: float) -> Vented:
        return Vented(now_s, start_pa, self._plumbing.vent_time_s)

    def _shut_in(self, now_s: float, start_pa: float) -> ShutIn:
        coupling = self._plumbing.coupling_pa_per_k(float(self._course.at(np.asarray(now_s))))
        left = self._plumbing.stiffness(start_pa)
        return ShutIn(now_s, start_pa, coupling * left, self._course, self._plumbing.leak_time_s / left)
