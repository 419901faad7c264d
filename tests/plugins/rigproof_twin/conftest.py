"""A simulated spool without instruments in between: the rig as built, and the world made of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.documents import load_rig
from rigproof.documents.rig import Rig
from rigproof.plugins import Registry
from rigproof.run.plan import Plan
from rigproof.simulation import Planted
from rigproof_twin.as_built import AsBuilt
from rigproof_twin.clock import VirtualClock
from rigproof_twin.document import read_twin
from rigproof_twin.draw import Streams
from rigproof_twin.flaws import plant
from rigproof_twin.survey import survey
from rigproof_twin.world import RigWorld

Builder = Callable[..., AsBuilt]
BEAM = Path(__file__).parents[3] / "rigs" / "beam"
FORCE_CELL = Path(__file__).parents[3] / "rigs" / "forcecell"


@pytest.fixture(scope="session")
def build(spool: Plan, spool_folder: Path) -> Builder:
    """A function that gives the spool as built, by seed and flaws."""
    return _builder(spool.rig, spool_folder)


@pytest.fixture(scope="session")
def build_beam(registry: Registry) -> Builder:
    """The same for the beam that is read by hand."""
    return _builder(load_rig(BEAM / "rig.yaml", registry), BEAM)


@pytest.fixture(scope="session")
def build_cell(registry: Registry) -> Builder:
    """The same for the force cell in its press."""
    return _builder(load_rig(FORCE_CELL / "rig.yaml", registry), FORCE_CELL)


def _builder(of: Rig, folder: Path) -> Builder:
    twin = read_twin(folder / "twin.yaml", of)

    def built(seed: int = 0, *flaws: Planted) -> AsBuilt:
        rig = survey(of, twin, Streams(seed))
        for flaw in flaws:
            plant(rig, flaw)
        return rig

    return built


@pytest.fixture
def world(build: Builder) -> RigWorld:
    """A healthy spool of seed 0."""
    return RigWorld(VirtualClock(), build(0))
