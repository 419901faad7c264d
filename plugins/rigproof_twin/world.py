"""One simulated rig in being, and what each instrument finds at its terminals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import nan

import numpy as np

from rigproof_twin.as_built import BOND_TIME_S, AsBuilt, BranchedPipe, Cell, Gauge, Shaft, Vessel
from rigproof_twin.clock import VirtualClock
from rigproof_twin.draw import Streams
from rigproof_twin.force_cell import CellAtWork
from rigproof_twin.four_gauges import FourGauges, on_shaft
from rigproof_twin.interface import FloatArray
from rigproof_twin.physics.column import Column
from rigproof_twin.physics.cylinder import Cylinder
from rigproof_twin.physics.history import LoadHistory, Strained
from rigproof_twin.physics.hydraulics import Hydraulics, Plumbing
from rigproof_twin.physics.joint import BadJoint
from rigproof_twin.physics.press import Press
from rigproof_twin.physics.sphere import Sphere
from rigproof_twin.physics.thermal import platinum_ohm
from rigproof_twin.physics.water import compressibility_per_pa, pressure_per_kelvin, stiffness_left, taken_in
from rigproof_twin.ports import Ports


def _full(built: AsBuilt, gauge: Gauge) -> FourGauges | None:
    """The four gauges of a full bridge; None where a gauge stands alone."""
    if isinstance(built.part, Cell):
        return CellAtWork(built.part, gauge)
    return on_shaft(built.part, gauge) if isinstance(built.part, Shaft) and gauge.others else None


class RigWorld:
    """Part, gauges, hydraulics, press or weights, and temperature of one rig, on one clock."""

    def __init__(self, clock: VirtualClock, built: AsBuilt) -> None:
        self.clock = clock
        self.built = built
        self.course = built.course
        part = built.part.build()
        self._filled_per_pa = nan  # what water and wall take in; nothing is shut into other parts
        if isinstance(part, Cylinder | Sphere):
            self._filled_per_pa = compressibility_per_pa(built.course.bay_c) + part.growth_per_pa

        def coupling_pa_per_k(temperature_c: float) -> float:
            if not isinstance(part, Cylinder | Sphere):
                return 0.0  # nothing is shut in
            return pressure_per_kelvin(temperature_c, part.expansion_per_k, part.growth_per_pa)

        def stiffness(pressure_pa: float) -> float:
            return stiffness_left(built.source.gas_share, pressure_pa, self._filled_per_pa)

        source = built.source
        self.source = Hydraulics(
            clock,
            built.course,
            Plumbing(
                source.time_constant_s,
                source.overshoot,
                source.vent_time_s,
                source.leak_time_s,
                coupling_pa_per_k,
                source.shortfall,
                source.held_pa,
                stiffness,
            ),
        )
        self.weights = built.weights.build(clock)
        self.press = Press(clock, source.time_constant_s, source.overshoot, source.vent_time_s)
        self.force = self.press if built.pressed else self.weights
        load = self.source if isinstance(part, Cylinder | Sphere) else self.force
        play_n = part.play_n if isinstance(part, Column) else 0.0
        self.rotated_rad = 0.0
        self._history = LoadHistory(load, part.plastic_strain, BOND_TIME_S, play_n)
        self._local = {  # of gauges under which the part yields before the rest of it
            name: LoadHistory(load, point[0].plastic_strain, BOND_TIME_S)
            for name, gauge in built.gauges.items()
            if isinstance(built.part, BranchedPipe) and (point := built.part.point(gauge.place))
        }
        self.full_bridges = {name: full for name, gauge in built.gauges.items() if (full := _full(built, gauge))}
        self._gauges = {name: gauge.build(part.expansion_per_k) for name, gauge in built.gauges.items()}
        self._responses = {
            name: built.part.response(gauge.place).turned(gauge.angle_rad) for name, gauge in built.gauges.items()
        }
        streams = Streams(built.seed)
        self._joints = {
            name: BadJoint(gauge.joint_ohm, streams.generator(f"{name} joint"))
            for name, gauge in built.gauges.items()
            if gauge.joint_ohm
        }

    def at_terminals(self, instrument: str) -> Terminals:
        """The world as one instrument of the rig sees it."""
        return Terminals(self, instrument)

    def strained(self, times_s: FloatArray) -> Strained:
        """What the part has been through at ascending times from now on."""
        return self._history.at(times_s, self.clock.now())

    def volume_m3(self) -> float:
        """Water that has gone into the part since it was full and without pressure, now; nan where there is none."""
        if not isinstance(self.built.part, Vessel) or self.built.part.cavity_m3 is None:
            return nan
        pressure = self.source.part_pa_now()
        return self.built.part.cavity_m3 * taken_in(self.built.source.gas_share, pressure, self._filled_per_pa)

    def gauge_ohm(self, name: str, state: Strained, temperature_c: FloatArray) -> FloatArray:
        """Resistance of a gauge itself, or of a whole full bridge, without its cable."""
        if name in self.full_bridges:
            return self.full_bridges[name].between_supplies_ohm(state, temperature_c)
        if name in self._local:
            state = self._local[name].at(state.times_s, self.clock.now())
        return self._gauges[name].resistance_ohm(self._responses[name], state, temperature_c)

    def rotate_to(self, angle_rad: float) -> None:
        """Turn the part to a position about the axis of the load, from now on."""
        self.rotated_rad = angle_rad
        for full in self.full_bridges.values():
            full.rotated_rad = angle_rad

    def joint_ohm(self, name: str, times_s: FloatArray) -> FloatArray:
        """What the joints in a gauge's near conductor add."""
        return self._joints[name].at(times_s) if name in self._joints else np.zeros_like(times_s)


@dataclass
class _Relay:
    """What the amplifier does to one of its inputs."""

    excitation_v: float = 0.0
    shunted: bool = False


class Terminals:
    """A `World` for one instrument: its own inputs, the one shared rig."""

    def __init__(self, world: RigWorld, instrument: str) -> None:
        self._world = world
        self._built = world.built
        self._instrument = instrument
        self._relays: dict[int, _Relay] = {}
        self._plugged: dict[tuple[int, ...], Ports] = {}
        self.clock = world.clock
        self.source = world.source
        self.press = world.press

    def bridge_output(self, inputs: Sequence[int], times_s: FloatArray) -> FloatArray:
        """Bridge output (V/V), shape (times, inputs); nan where nothing is plugged in, fed or whole."""
        fed = [i for i in inputs if self._fed(i)]
        full = [i for i in fed if self._built.bridges[self._instrument, i].gauge in self._world.full_bridges]
        live = tuple(i for i in fed if i not in full)
        if live == tuple(inputs) and len(times_s):
            return self._of_one(live, times_s)
        output = np.full((len(times_s), len(inputs)), nan)
        for i in full:
            output[:, inputs.index(i)] = self._of_four(i, times_s)
        if live and len(times_s):
            output[:, [inputs.index(i) for i in live]] = self._of_one(live, times_s)
        return output

    def _of_one(self, inputs: tuple[int, ...], times_s: FloatArray) -> FloatArray:
        """Output of gauges that stand alone, shape (times, inputs)."""
        ports = self._ports(inputs)
        state, temperature = self._world.strained(times_s), self._world.course.at(times_s)
        gauges = [self._world.gauge_ohm(name, state, temperature) for name in ports.gauges]
        joints = [self._world.joint_ohm(name, times_s) for name in ports.gauges]
        shunted = np.array([self._relay(i).shunted for i in inputs])
        return ports.output(np.array(gauges).T, np.array(joints).T, shunted, times_s, temperature)

    def _of_four(self, channel_input: int, times_s: FloatArray) -> FloatArray:
        """Output of a full bridge, shape (times,)."""
        port = self._built.bridges[self._instrument, channel_input]
        state, temperature = self._world.strained(times_s), self._world.course.at(times_s)
        shunt_s = 1.0 / port.shunt_ohm if self._relay(channel_input).shunted else 0.0
        joint = self._world.joint_ohm(port.gauge, times_s)
        return port.seen(
            self._world.full_bridges[port.gauge].bridge_output(state, temperature, joint, shunt_s), times_s
        )

    def close_shunt(self, channel_input: int, closed: bool) -> None:
        """Work the shunt relay of an input."""
        self._relay(channel_input).shunted = closed

    def set_excitation(self, channel_input: int, volt: float) -> None:
        """Feed an input. The output is a ratio, so that the volts do not matter to it, only that there are some."""
        self._relay(channel_input).excitation_v = volt

    def resistance_ohm(self, channel_input: int) -> float:
        """Four-wire: the gauge or the sensor itself, without the cable."""
        name = self._built.ohmmeters.get((self._instrument, channel_input))
        if name is None:
            return nan
        now = np.array([self.clock.now()])
        temperature = self._world.course.at(now)
        if name in self._built.sensors:
            sensor = self._built.sensors[name]
            shown = temperature + sensor.error_c + sensor.error_share * np.abs(temperature)
            return float(platinum_ohm(shown, sensor.at_zero_ohm)[0])
        return float(self._world.gauge_ohm(name, self._world.strained(now), temperature)[0])

    def insulation_ohm(self, channel_input: int, volt: float) -> float:  # noqa: ARG002  a dry leak is the same both ways
        """Resistance from the grid to the part."""
        name = self._built.insulation.get((self._instrument, channel_input))
        return nan if name is None else self._built.gauges[name].insulation_ohm

    def temperature_c(self, channel_input: int) -> float:
        """Temperature of the water."""
        if (self._instrument, channel_input) not in self._built.thermometers:
            return nan
        return float(self._world.course.at(np.asarray(self.clock.now())))

    def pressure_pa(self) -> float:
        """Pressure in the part, now."""
        return self.source.part_pa_now()

    def volume_m3(self) -> float:
        """Water that has gone into the part, now."""
        return self._world.volume_m3()

    def force_n(self) -> float:
        """Force on the part, now; of a shaft its torque (N·m)."""
        return float(self._world.force.on_part(np.array([self.clock.now()]))[0])

    def rotate_to(self, angle_rad: float) -> None:
        """Turn the one part."""
        self._world.rotate_to(angle_rad)

    def rotated_rad(self) -> float:
        """How it stands."""
        return self._world.rotated_rad

    def _relay(self, channel_input: int) -> _Relay:
        return self._relays.setdefault(channel_input, _Relay())

    def _fed(self, channel_input: int) -> bool:
        return (self._instrument, channel_input) in self._built.bridges and self._relay(channel_input).excitation_v > 0

    def _ports(self, inputs: tuple[int, ...]) -> Ports:
        """What is plugged into some inputs; put together once, for it does not change."""
        if inputs not in self._plugged:
            ports = [self._built.bridges[self._instrument, i] for i in inputs]
            self._plugged[inputs] = Ports.of(ports, [self._built.gauges[port.gauge] for port in ports])
        return self._plugged[inputs]
