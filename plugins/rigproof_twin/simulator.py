"""The simulator that the twin puts behind rigproof's door: a rig with strain gauges under water pressure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from rigproof.documents.content import content_of
from rigproof.documents.load import fault_in
from rigproof.errors import DocumentError, UsageError
from rigproof.simulation import Flaw, Planted, Service, Simulation, Simulator
from rigproof_twin import modbus, registry
from rigproof_twin.agenda import AgendaClock
from rigproof_twin.as_built import AsBuilt
from rigproof_twin.document import BY_HAND, Twin, read_twin
from rigproof_twin.draw import Streams
from rigproof_twin.flaws import FLAWS, plant
from rigproof_twin.instruments import KINDS, SimulatedInstrument, build
from rigproof_twin.instruments.foreign import Foreign
from rigproof_twin.interface import Appearance, World
from rigproof_twin.person import HandheldMeter, SimulatedPerson, Slip
from rigproof_twin.refusal import beyond
from rigproof_twin.roles import described_by, expect_known, role, terminator
from rigproof_twin.serve import Server
from rigproof_twin.shared_clock import SharedClock
from rigproof_twin.survey import survey
from rigproof_twin.world import RigWorld

if TYPE_CHECKING:
    from rigproof.documents.rig import Instrument, Rig

ROTATES = "manual rotation"  # nothing but a person: it has neither wire nor display
STRAINS_READ = 20  # at least, in a run by hand


class StrainRig(Simulator):
    """Makes simulated rigs from rig.yaml and twin.yaml."""

    kind: ClassVar[str] = "strain rig"
    document: ClassVar[type[Twin]] = Twin

    def flaws(self) -> tuple[Flaw, ...]:
        """Every flaw that can be planted."""
        return tuple(planting.flaw for planting in FLAWS.values())

    def open(self, rig: Rig, twin_file: Path, seed: int, flaws: Sequence[Planted]) -> Simulation:
        """A rig drawn by `seed`, with flaws; several at once combine, in the order given.

        Raises `DocumentError` for twin.yaml and for two Modbus units of one id, `UsageError` for an unknown flaw, a
        size out of bounds or a rig that the twin has no physics for.
        """
        expect_known(rig)
        twin = read_twin(twin_file, rig)
        streams = Streams(seed)
        built = survey(rig, twin, streams)
        for planted in flaws:
            plant(built, planted)
        clock = AgendaClock(twin.starts)
        world = RigWorld(clock, built)
        instruments: dict[str, SimulatedInstrument] = {}
        stations: dict[str, modbus.Station] = {}
        meters: dict[str, HandheldMeter] = {}
        for name, instrument in rig.instruments.items():
            seen, look, noise = world.at_terminals(name), built.appearances[name], streams.generator(f"{name} noise")
            made: SimulatedInstrument | modbus.SimulatedUnit
            if instrument.driver.kind == ROTATES:
                continue
            if instrument.driver.kind in BY_HAND:
                meters[name] = HandheldMeter(seen, look, noise)
                continue
            if instrument.driver.kind in modbus.KINDS:
                made = modbus.build(rig, instrument, seen, look, noise)
                _on_the_line(rig, instrument, made, stations.setdefault(instrument.resource, modbus.Station()))
            else:
                made = instruments[instrument.resource] = _at_the_wire(rig, instrument, seen, look, noise)
            if name in built.dies_at_s:
                clock.at(built.dies_at_s[name], partial(setattr, made, "alive", False))
        simulated = SimulatedRig(world, registry.Bench(clock, instruments, stations))
        simulated.about = {"name": rig.name, "file": str(Path(rig.file).absolute()), "content": content_of(rig)}
        plates = {name: built.appearances[name].serial_number for name in meters}
        simulated.answers = SimulatedPerson(
            rig, simulated.clock, meters, world.weights, plates, _slip(built, streams), world.rotate_to
        )
        simulated.by_hand = bool(meters) or any(i.driver.kind == ROTATES for i in rig.instruments.values())
        return simulated


def _on_the_line(rig: Rig, instrument: Instrument, unit: modbus.SimulatedUnit, station: modbus.Station) -> None:
    """Put a unit on its line; `DocumentError` where its id is another's there."""
    try:
        station.add(instrument.name, unit)
    except UsageError:
        message = f"{unit.number} is the unit id of another instrument at {instrument.resource} already"
        place = ("instruments", instrument.name, "settings", "unit id")
        raise DocumentError([fault_in(rig, place, message, "give each unit on a line an id of its own")]) from None


def _at_the_wire(
    rig: Rig, instrument: Instrument, world: World, look: Appearance, noise: np.random.Generator
) -> SimulatedInstrument:
    """The twin's own instrument, or one whose words a plugin brings."""
    if (stand_in := instrument.driver.stand_in()) is not None:
        reads = {c.input: c.reads for c in rig.channels.values() if c.instrument == instrument.name}
        return Foreign(instrument, stand_in, reads, rig.part.load, world, look, noise)
    described = described_by(instrument)
    if described is None and role(instrument) not in KINDS:
        place, known = ("instruments", instrument.name, "driver"), (*sorted(KINDS), "any driver with a `stand_in`")
        raise beyond(rig, place, f"the twin has no {instrument.driver.kind}", known)
    made = build(role(instrument), world, look, noise, described)
    made.terminator = terminator(instrument)
    return made


class SimulatedRig(Simulation):
    """One simulated rig, known to the VISA backend until it is closed."""

    def __init__(self, world: RigWorld, bench: registry.Bench) -> None:
        self.world = world
        self.bench = bench
        self.clock = SharedClock(bench) if bench.stations else bench.clock
        self.by_hand = False  # instruments are read by hand
        self.about: Mapping[str, object] = {}  # which rig it is, for whoever meets it on a bench
        self._token = registry.add(bench)
        self._server: Server | None = None
        self._stations: Server | None = None  # for drivers in this process
        self.visa_library = f"{self._token}@rigproof"

    def truth(self) -> dict[str, float]:
        """True values by name, such as `hoop gauge factor`; base units."""
        return self.world.built.values()

    def addresses(self) -> Mapping[str, str]:
        """Modbus instruments are reached over loopback, also from within this process."""
        if not self.bench.stations:
            return {}
        if self._stations is None:
            self._stations = Server(self.bench, stations_only=True)
        return self._stations.addresses()

    def serve(self, first_port: int) -> Service:
        """Serve every instrument and the clock over TCP on loopback; a second call says where they already are.

        Raises `UsageError` where a person would be needed.
        """
        if self.by_hand:
            raise UsageError(
                "bench: instruments of this rig are worked by hand, and no wire leads to them; use --simulated"
            )
        if self._server is None:
            self._server = Server(self.bench, first_port, rig=self.about)
        return Service(self._server.ports, self._server.clock_port)

    def close(self) -> None:
        """Stop serving, forget the rig. May be called twice."""
        for server in (self._server, self._stations):
            if server is not None:
                server.close()
        self._server = self._stations = None
        registry.remove(self._token)


def _slip(built: AsBuilt, streams: Streams) -> Slip | None:
    """The one reading that a flaw makes the person read wrong: any of the first twenty."""
    if not built.misread_by:
        return None
    return Slip(int(streams.generator("person slip").integers(1, STRAINS_READ + 1)), built.misread_by)
