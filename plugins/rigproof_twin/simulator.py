"""The simulator that the twin puts behind rigproof's door: a rig with strain gauges under water pressure."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from rigproof.simulation import Flaw, Planted, Service, Simulation, Simulator
from rigproof_twin import registry
from rigproof_twin.agenda import AgendaClock
from rigproof_twin.document import read_twin
from rigproof_twin.draw import Streams
from rigproof_twin.flaws import FLAWS, plant
from rigproof_twin.instruments import SimulatedInstrument, build
from rigproof_twin.roles import described_by, role, terminator
from rigproof_twin.serve import Server
from rigproof_twin.survey import survey
from rigproof_twin.world import RigWorld

if TYPE_CHECKING:
    from rigproof.documents.rig import Rig


class StrainRig(Simulator):
    """Makes simulated rigs from rig.yaml and twin.yaml."""

    kind: ClassVar[str] = "strain rig"

    def flaws(self) -> tuple[Flaw, ...]:
        """Every flaw that can be planted."""
        return tuple(planting.flaw for planting in FLAWS.values())

    def open(self, rig: Rig, twin_file: Path, seed: int, flaws: Sequence[Planted]) -> Simulation:
        """A rig drawn by `seed`, with flaws; several at once combine, in the order given.

        Raises `DocumentError` for twin.yaml, `UsageError` for an unknown flaw, a size out of bounds or a rig that the
        twin has no physics for.
        """
        twin = read_twin(twin_file, rig)
        streams = Streams(seed)
        built = survey(rig, twin, streams)
        for planted in flaws:
            plant(built, planted)
        clock = AgendaClock(twin.starts)
        world = RigWorld(clock, built)
        instruments: dict[str, SimulatedInstrument] = {}
        for name, instrument in rig.instruments.items():
            made = build(
                role(instrument),
                world.at_terminals(name),
                built.appearances[name],
                streams.generator(f"{name} noise"),
                described_by(instrument),
            )
            made.terminator = terminator(instrument)
            instruments[instrument.resource] = made
            if name in built.dies_at_s:
                clock.at(built.dies_at_s[name], partial(setattr, made, "alive", False))
        return SimulatedRig(world, registry.Bench(clock, instruments))


class SimulatedRig(Simulation):
    """One simulated rig, known to the VISA backend until it is closed."""

    def __init__(self, world: RigWorld, bench: registry.Bench) -> None:
        self.world = world
        self.bench = bench
        self.clock = bench.clock
        self._token = registry.add(bench)
        self._server: Server | None = None
        self.visa_library = f"{self._token}@rigproof"

    def truth(self) -> dict[str, float]:
        """True values by name, such as `hoop gauge factor`; base units."""
        return self.world.built.values()

    def serve(self, first_port: int) -> Service:
        """Serve every instrument and the clock over TCP on loopback; a second call says where they already are."""
        if self._server is None:
            self._server = Server(self.bench, first_port)
        return Service(self._server.ports, self._server.clock_port)

    def close(self) -> None:
        """Stop serving, forget the rig. May be called twice."""
        if self._server is not None:
            self._server.close()
            self._server = None
        registry.remove(self._token)
