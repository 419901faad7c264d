"""The rig as it really stands on the bench: true values, drawn before the run, open to flaws, then built into physics.

Everything is in base units. A flaw changes one or several of these values; once the world is built nobody does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import inf, nan, tau
from typing import Literal

import numpy as np

from rigproof.clock import Clock
from rigproof_twin.interface import Appearance, FloatArray
from rigproof_twin.physics.branch_point import BranchPoint
from rigproof_twin.physics.cantilever import CantileverBeam
from rigproof_twin.physics.column import Column
from rigproof_twin.physics.cylinder import Cylinder, Response
from rigproof_twin.physics.gauge import BondedGauge, axial_and_transverse
from rigproof_twin.physics.shaft import TorsionShaft
from rigproof_twin.physics.sphere import Sphere
from rigproof_twin.physics.thermal import TemperatureCourse
from rigproof_twin.physics.weights import DeadWeights

MAINS_HZ = 50.0
BOND_TIME_S = 300.0  # in which a soft bond gives way; of the order named for under-cured adhesives, no source


@dataclass
class Vessel:
    """A round shell full of water."""

    outside_diameter_m: float
    wall_m: float
    elastic_modulus_pa: float
    poisson_ratio: float
    expansion_per_k: float
    yield_strength_pa: float
    gauges_outside: bool
    cavity_m3: float | None = field(default=None, kw_only=True)  # None where nobody stated it


@dataclass
class Pipe(Vessel):
    """A cylinder."""

    ends: Literal["closed", "open", "fixed"]

    def build(self) -> Cylinder:
        """The physics of it."""
        outer = self.outside_diameter_m / 2.0
        return Cylinder(
            outer - self.wall_m,
            outer,
            self.elastic_modulus_pa,
            self.poisson_ratio,
            self.expansion_per_k,
            self.yield_strength_pa,
            self.ends,
        )

    def response(self, place: str) -> Response:
        """What a gauge at `place` sees."""
        cylinder = self.build()
        return cylinder.response(place, cylinder.outer_m if self.gauges_outside else cylinder.inner_m)


@dataclass
class BranchedPipe(Pipe):
    """A cylinder with a branch. `factors`: the true ones of each point, along its normal and tangential."""

    factors: dict[str, tuple[float, float]]

    def point(self, place: str) -> tuple[BranchPoint, str] | None:
        """The point that a `place` names, and the direction there; None on the plain shell."""
        name, _, direction = place.rpartition(" ")
        if name not in self.factors:
            return None
        pipe = self.build()
        radius_m = pipe.outer_m if self.gauges_outside else pipe.inner_m
        return BranchPoint(pipe, radius_m, *self.factors[name]), direction

    def response(self, place: str) -> Response:
        """What a gauge at `place` sees."""
        at_branch = self.point(place)
        return super().response(place) if at_branch is None else at_branch[0].response(at_branch[1])


@dataclass
class Ball(Vessel):
    """A sphere."""

    def build(self) -> Sphere:
        """The physics of it."""
        outer = self.outside_diameter_m / 2.0
        return Sphere(
            outer - self.wall_m,
            outer,
            self.elastic_modulus_pa,
            self.poisson_ratio,
            self.expansion_per_k,
            self.yield_strength_pa,
        )

    def response(self, place: str) -> Response:  # noqa: ARG002  one place is like another
        """What any gauge sees."""
        sphere = self.build()
        return sphere.response(sphere.outer_m if self.gauges_outside else sphere.inner_m)


@dataclass
class Beam:
    """A cantilever of constant section, loaded at its end."""

    length_m: float
    width_m: float
    thickness_m: float
    gauge_distance_m: float
    elastic_modulus_pa: float
    poisson_ratio: float
    expansion_per_k: float
    yield_strength_pa: float

    def build(self) -> CantileverBeam:
        """The physics of it."""
        return CantileverBeam(
            self.length_m,
            self.width_m,
            self.thickness_m,
            self.gauge_distance_m,
            self.elastic_modulus_pa,
            self.poisson_ratio,
            self.expansion_per_k,
            self.yield_strength_pa,
        )

    def response(self, place: str) -> Response:
        """What a gauge at `place` sees."""
        return self.build().response(place)


@dataclass
class Shaft:
    """A round shaft under torque, solid or with a bore."""

    diameter_m: float
    bore_m: float
    elastic_modulus_pa: float
    poisson_ratio: float
    expansion_per_k: float
    yield_strength_pa: float

    def build(self) -> TorsionShaft:
        """The physics of it."""
        return TorsionShaft(**vars(self))

    def response(self, place: str) -> Response:
        """What a gauge at `place` sees."""
        return self.build().response(place)


@dataclass
class Cell:
    """A force cell whose body is a round column, with a gauge in each of the four arms of its bridge."""

    rated_load_n: float
    rated_output: float  # V/V at the rated load, centred
    elastic_modulus_pa: float
    poisson_ratio: float
    expansion_per_k: float
    yield_strength_pa: float
    nonlinearity: float  # shares of the rated load, see `physics.column`
    hysteresis: float
    eccentricity_m: float
    towards_rad: float
    unlike: tuple[float, ...]  # share by which the gauge factor of each arm differs
    unlike_per_k: tuple[float, ...]  # by which the compensation of each arm differs, 1/K
    diameter_m: float = nan  # fitted to the rated output once the gauges are known

    def build(self) -> Column:
        """The physics of it."""
        return Column(
            self.diameter_m,
            self.elastic_modulus_pa,
            self.poisson_ratio,
            self.expansion_per_k,
            self.yield_strength_pa,
            self.rated_load_n,
            self.nonlinearity,
            self.hysteresis,
            self.eccentricity_m,
            self.towards_rad,
        )

    def response(self, place: str) -> Response:  # noqa: ARG002  it has one place
        """What the gauge of arm 1 sees in the first position."""
        return self.build().response(0, 0.0)


@dataclass
class Weights:
    """Weights that a person hangs on the part, by mark."""

    masses_kg: dict[str, float]
    gravity: float  # m/s², where they hang

    def build(self, clock: Clock) -> DeadWeights:
        """The physics of them."""
        return DeadWeights(clock, self.masses_kg, self.gravity)


@dataclass
class Gauge:
    """A gauge with its cable, from the grid to the plug; of a full bridge the one in arm 1, and its cable."""

    place: str
    packet_ohm: float
    gauge_factor: float
    transverse_sensitivity: float
    compensated_for_per_k: float | None  # None: not stated, taken as fitting the part
    bonding_strain: float  # that bonding has left in the grid
    transfer: float
    give: float
    insulation_ohm: float
    near_ohm: float  # conductors at the reference temperature
    far_ohm: float
    signal_ohm: float
    lead_per_k: float
    two_wires: bool
    opens_at_s: float = inf
    angle_rad: float = 0.0  # of the grid off its mark
    heating_k: float = 0.0  # of the grid above the part, in the end
    joint_ohm: float = 0.0  # what a bad joint in the near conductor adds now and then
    sensed: bool = False  # two more wires sense the excitation at the bridge
    others: tuple[float, ...] = ()  # bonding strains in arms 2 to 4 of a full bridge; a cell has arms of its own
    arms_swapped: bool = False  # of a full bridge: the gauges of arms 1 and 2 are in each other's

    def build(self, part_expansion_per_k: float) -> BondedGauge:
        """The physics of it."""
        along, across = axial_and_transverse(self.gauge_factor, self.transverse_sensitivity)
        fits = part_expansion_per_k if self.compensated_for_per_k is None else self.compensated_for_per_k
        return BondedGauge(
            rest_ohm=self.packet_ohm * (1.0 + along * self.bonding_strain),
            along=along,
            across=across,
            part_per_k=part_expansion_per_k,
            compensated_per_k=fits,
            heating_k=self.heating_k,
            transfer=self.transfer,
            give=self.give,
            opens_at_s=self.opens_at_s,
        )


@dataclass
class BridgeInput:
    """One input of a bridge amplifier and the gauge plugged into it."""

    gauge: str
    completion_ohm: float
    shunt_ohm: float
    half_ratio: float = 0.5
    zero_run_per_s: float = 0.0  # drift of the half bridge, V/V per second
    polarity: float = 1.0  # -1 where the signal wires are crossed
    pickup: float = 0.0  # amplitude of what the mains induce, V/V

    def seen(self, output: FloatArray, times_s: FloatArray) -> FloatArray:
        """A bridge's output (V/V) as it arrives at the input: crossed wires, drift and mains; shape (times,)."""
        mains = self.pickup * np.sin(tau * MAINS_HZ * times_s)
        return np.asarray(self.polarity * (output + self.zero_run_per_s * times_s) + mains)


@dataclass
class Sensor:
    """A platinum resistance sensor on the ohmmeter; it shows `error_c + error_share |t|` too much."""

    at_zero_ohm: float
    error_c: float = 0.0
    error_share: float = 0.0


@dataclass
class Source:
    """Pump, vent and tightness."""

    time_constant_s: float
    overshoot: float
    vent_time_s: float
    leak_time_s: float = inf
    limit_pa: float = inf  # the highest pressure the rig allows
    shortfall: float = 0.0  # share of the target by which its controller stays below
    held_pa: float = 0.0  # what stays in the part when it is vented
    gas_share: float = 0.0  # of the part's volume, before the pressure comes


@dataclass
class AsBuilt:
    """The whole rig. `ohmmeters` and `insulation` say what is on an instrument's input: a gauge or a sensor by name."""

    part: Pipe | Ball | Beam | Shaft | Cell
    gauges: dict[str, Gauge]
    course: TemperatureCourse
    source: Source
    weights: Weights
    pressed: bool = False  # a press, or a drive with its torque, loads the part, with the times of `source`
    bridges: dict[tuple[str, int], BridgeInput] = field(default_factory=dict)  # by instrument and input
    ohmmeters: dict[tuple[str, int], str] = field(default_factory=dict)
    sensors: dict[str, Sensor] = field(default_factory=dict)
    insulation: dict[tuple[str, int], str] = field(default_factory=dict)
    thermometers: set[tuple[str, int]] = field(default_factory=set)
    transmitters: list[str] = field(default_factory=list)
    by_hand: set[str] = field(default_factory=set)  # meters that a person reads
    appearances: dict[str, Appearance] = field(default_factory=dict)
    dies_at_s: dict[str, float] = field(default_factory=dict)  # instruments that die in the run
    misread_by: float = 0.0  # strain by which the person reads one display wrong
    seed: int = 0  # for what happens by chance in the run

    def values(self) -> dict[str, float]:
        """Every true number by name, such as `hoop gauge factor`; base units."""
        found = _numbers("part", vars(self.part))
        if isinstance(self.part, BranchedPipe):
            for name, (normal, tangential) in self.part.factors.items():
                found |= {f"part {name} normal": normal, f"part {name} tangential": tangential}
        for name, gauge in self.gauges.items():
            found |= _numbers(name, vars(gauge))
        for (instrument, channel_input), bridge in self.bridges.items():
            found |= _numbers(f"{instrument} input {channel_input}", vars(bridge))
        for name, sensor in self.sensors.items():
            found |= _numbers(name, vars(sensor))
        found |= _numbers("weight", self.weights.masses_kg) | {"gravity": self.weights.gravity}
        found |= _numbers("source", vars(self.source)) | _numbers("temperature", vars(self.course))
        for name, look in self.appearances.items():
            found |= _numbers(name, {field: getattr(look, field) for field in ("resolution", "rail", "freezes_at_s")})
            for channel_input, deviation in look.deviations.items():
                found |= _numbers(f"{name} input {channel_input}", vars(deviation))
        found |= {f"{name} dies at s": moment for name, moment in self.dies_at_s.items()}
        return found | {"person misread by": self.misread_by}


def _numbers(prefix: str, values: Mapping[str, object]) -> dict[str, float]:
    return {
        f"{prefix} {name.replace('_', ' ')}": float(value)
        for name, value in values.items()
        if isinstance(value, float | int)
    }
