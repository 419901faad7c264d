"""Plans of a few steps on the spool that ships: it warms up after filling, and a counter measures what goes in."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.documents import fit, load_procedure
from rigproof.plugins import Registry
from rigproof.run.plan import Plan, make_plan

SHIPPED = Path(__file__).parents[3] / "rigs" / "spool"


@pytest.fixture(scope="session")
def plan(registry: Registry) -> Callable[[str], Plan]:
    """A function: the lines of `steps:` -> a plan."""
    rig = make_plan(SHIPPED, registry).rig

    def make(steps: str) -> Plan:
        procedure = load_procedure(text=f"rigproof: procedure/1\nname: x\nsteps:\n{steps}", registry=registry)
        fit(rig, procedure)
        return Plan(rig, procedure, registry)

    return make
