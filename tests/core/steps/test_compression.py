"""A load below zero is compression: it counts by its size, in the proof as in the limits."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from rigproof.documents import load_procedure, load_rig
from rigproof.documents.rig import Rig
from rigproof.errors import DocumentError, Tripped
from rigproof.interlocks import locks_of
from rigproof.journal import Entry
from rigproof.plugins import Registry
from rigproof.run.interlocks import Interlocks
from rigproof.run.plan import Plan
from rigproof.steps.hold_checks import hold_checks
from rigproof.steps.proof import Proof
from rigproof.steps.proof_checks import ProofReadings
from rigproof.steps.record import StepRecord
from rigproof.uncertainty import Rule
from rigproof.verdict.record import Check

COLUMN = """\
rigproof: rig/1
name: Strut under a press
part:
  model: column
  diameter: 20 mm
  loaded in: compression
  length: 60 mm
  material: carbon steel
channels:
  force: {measures: force, instrument: meter, input: 1, accuracy: {of reading: 0.1 %}}
instruments:
  meter:
    driver: described meter
    resource: "TCPIP::192.0.2.15::5025::SOCKET"
    timeout: 5 s
    settings:
      {quantity: force, unit: kN, identity: cannot say, read: {ask: RD, reply: "{value}"}}
  press: {driver: pressure source, resource: "TCPIP::192.0.2.16::5025::SOCKET", timeout: 5 s}
sources:
  press: {instrument: press, channel: force, rate: 1 kN/s, limit: 60 kN, safe below: 0.1 kN}
"""


@pytest.fixture(scope="module")
def strut(registry: Registry) -> Rig:
    return load_rig(text=COLUMN, registry=registry)


def held(strut: Rig, registry: Registry, *forces_kn: float) -> dict[str, Check]:
    """The level checks of a hold at -50 kN whose readings are `forces_kn`, the first at its start."""
    text = "rigproof: procedure/1\nname: x\nsteps:\n  - proof: {source: press, to: -50 kN, hold: 10 s}\n"
    (step,) = load_procedure(text=text, registry=registry).steps
    assert isinstance(step, Proof)
    labels = ["hold start", *["hold"] * (len(forces_kn) - 2), "hold end"]
    samples = [
        Entry(
            n, 5.0 * n, "samples", {"label": label, "values": {"force": [1e3 * force]}, "tags": {}, "t0": {}, "dt": 0}
        )
        for n, (label, force) in enumerate(zip(labels, forces_kn, strict=True))
    ]
    readings = ProofReadings(strut, StepRecord(1, "proof", tuple(samples)), (), "force", "", step.to)
    found = hold_checks(readings, Rule(), step)
    return {check.name: check for check in found}


def test_a_strut_held_in_compression_is_accepted(strut: Rig, registry: Registry) -> None:
    checks = held(strut, registry, -50.5, -50.5, -50.4)
    assert {name: check.finding for name, check in checks.items()} == {
        "lowest load of the hold": "accept",
        "highest load": "accept",
        "decay over the hold": "accept",
    }
    assert checks["lowest load of the hold"].measured == -50.4e3
    assert checks["highest load"].measured == -50.5e3


@pytest.mark.parametrize(
    ("forces", "name"),
    [((-50.5, -49.0, -50.5), "lowest load of the hold"), ((-50.5, -53.5, -50.5), "highest load")],
)
def test_too_little_and_too_much_compression_is_rejected(
    strut: Rig, registry: Registry, forces: tuple[float, ...], name: str
) -> None:
    assert held(strut, registry, *forces)[name].finding == "reject"


@pytest.mark.parametrize("step", ["cycles", "proof"])
def test_a_step_that_loads_nothing_is_refused(planned: Callable[..., Plan], step: str) -> None:
    with pytest.raises(DocumentError, match="without load nothing is shown"):
        planned(f"  - {step}: {{source: pump, to: 0 bar}}\n")


@pytest.mark.parametrize("force_kn", [60.1, -60.1])
def test_the_limit_of_a_source_holds_in_both_directions(strut: Rig, force_kn: float) -> None:
    with pytest.raises(Tripped, match=r"'limit of press': force at -?60\.1 kN, limit -?60 kN"):
        Interlocks(strut).check({"force": np.array([force_kn * 1e3])}, under_load=True)


def test_there_is_no_pressure_so_far_below_zero(spool: Plan) -> None:
    assert [lock.below for lock in locks_of(spool.rig) if lock.name == "limit of pump"] == [None]
