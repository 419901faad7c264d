"""Failed readings tried again: only as rig.yaml says, told in the journal, and never at the price of a zero."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import cast

import pytest

from rigproof.documents import load_rig
from rigproof.errors import DocumentError
from rigproof.journal import read_journal
from rigproof.plugins import Registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.simulated import reach_of, simulation
from rigproof.verdict import words
from rigproof.verdict.record import Verdict
from rigproof_twin import faults
from rigproof_twin.faults import Fault, FaultyWire
from rigproof_twin.simulator import SimulatedRig

SPOOL = Path(__file__).parents[3] / "tests" / "rigs" / "spool"
STEPS = """\
  - balance: {settle: 2 s}
  - shunt: {resistor: 174.8 kΩ ± 0.1 %}
  - cycles: {source: pump, to: 20 bar, times: 2, levels: 2, exercise: 0, dwell: 2 s, rest: 5 s, readings: 5}
"""


def allowed(instrument: str, policy: str = "{times: 2, wait: 0.5 s}") -> tuple[str, str]:
    """A change of rig.yaml: this instrument may be asked again."""
    old = f"  {instrument}:\n    driver:"
    return old, f"  {instrument}:\n    retries: {policy}\n    driver:"


Ran = tuple[Verdict, SimulatedRig, FaultyWire]


@pytest.fixture
def ran(tmp_path: Path) -> Callable[[Plan, str, Fault], Ran]:
    """A function: a plan, an instrument and the fault of its wire -> what became of it."""

    def run(plan: Plan, instrument: str, fault: Fault) -> Ran:
        rig = cast("SimulatedRig", simulation(plan.rig, SPOOL, plan.registry, 0, ()))
        wire = FaultyWire(fault)
        rig.bench.instruments[plan.rig.instruments[instrument].resource].wire = wire
        try:
            return run_and_judge(plan, reach_of(rig), tmp_path, Silent()), rig, wire
        finally:
            rig.close()

    return run


def events(folder: Path, kind: str) -> list[dict[str, object]]:
    return [entry.data for entry in read_journal(folder / "journal.jsonl").entries if entry.kind == kind]


@pytest.mark.parametrize("kind", [faults.NO_REPLY, faults.LOST_LINK, faults.CUT, faults.GARBAGE, faults.QUEUE_FULL])
@pytest.mark.parametrize("instrument", ["transmitter", "bridge", "ohmmeter"])
def test_one_failed_reading_is_taken_again(
    planned: Callable[..., Plan], ran: Callable[..., Ran], tmp_path: Path, kind: str, instrument: str
) -> None:
    after = {"transmitter": 60, "bridge": 80, "ohmmeter": 10}[instrument]
    verdict, _, wire = ran(planned(STEPS, allowed(instrument)), instrument, Fault(kind, after, seed=5))
    assert wire.struck == 1
    assert verdict.verdict == "accept", verdict.why
    assert [words.retries(each) for each in verdict.retries] == [f"1 retry of the {instrument}"]
    (told,) = events(tmp_path, "retry")
    assert (told["instrument"], told["attempt"], told["of"]) == (instrument, 1, 2)
    assert str(told["why"]).startswith(f"{instrument}: ")


def test_without_a_policy_one_failed_reading_ends_the_run(
    planned: Callable[..., Plan], ran: Callable[..., Ran]
) -> None:
    verdict, rig, _ = ran(planned(STEPS), "transmitter", Fault(faults.NO_REPLY, 60))
    assert verdict.verdict == "void"
    assert verdict.retries == ()
    assert verdict.safe_end[-1].confirmed
    assert not rig.world.source.enabled


def test_tries_of_one_reading_and_of_a_run_are_bounded(
    planned: Callable[..., Plan], ran: Callable[..., Ran], tmp_path: Path
) -> None:
    plan = planned(STEPS, allowed("transmitter", "{times: 3, wait: 1 s}"))
    verdict, *_ = ran(plan, "transmitter", Fault(faults.NO_REPLY, 60, float("inf")))
    assert verdict.verdict == "void"
    assert [told["attempt"] for told in events(tmp_path, "retry")] == [1, 2, 3]
    assert events(tmp_path, "end")[0]["how"] == "instrument lost"


def test_a_run_has_only_so_many(planned: Callable[..., Plan], ran: Callable[..., Ran]) -> None:
    """Each single reading comes right at its second try, but the instrument fails too often."""
    plan = planned(STEPS, allowed("bridge", "{times: 2, wait: 0 s, in a run: 4}"))
    verdict, *_ = ran(plan, "bridge", Fault(faults.CUT, 60, 40, seed=1))
    assert verdict.verdict == "void"
    assert verdict.retries[0].count <= 4


def test_another_instrument_that_answers_the_retry_is_refused(
    planned: Callable[..., Plan], ran: Callable[..., Ran]
) -> None:
    plan = planned(STEPS, allowed("transmitter"))
    verdict, *_ = ran(plan, "transmitter", Fault(faults.STRANGER, 60, float("inf")))
    assert verdict.verdict == "void"
    assert "another" in verdict.end
    assert not verdict.safe_end[-1].confirmed  # its 0 bar say nothing about the part


def test_a_retry_under_the_shunt_leaves_the_relay_closed(
    planned: Callable[..., Plan], ran: Callable[..., Ran], tmp_path: Path
) -> None:
    """The reading with the resistor across is lost and taken again: had the relay been opened, the check would tell."""
    shunt = "  - shunt: {resistor: 174.8 kΩ ± 0.1 %}\n"
    plan = planned(shunt, allowed("bridge"))
    for after in range(18, 36):
        for file in tmp_path.iterdir():
            file.unlink()
        verdict, *_ = ran(plan, "bridge", Fault(faults.LOST_LINK, after))
        findings = {check.finding for check in verdict.checks}
        assert (verdict.verdict == "void") or findings == {"accept"}, (after, verdict.why)


def test_what_was_read_before_the_failure_is_kept_and_not_judged(
    planned: Callable[..., Plan], ran: Callable[..., Ran], tmp_path: Path
) -> None:
    """In a level the bridge is read before the transmitter: both are read again."""
    plan = planned(STEPS, allowed("transmitter"))
    verdict, *_ = ran(plan, "transmitter", Fault(faults.NO_REPLY, 45))
    assert verdict.verdict == "accept"
    levels = [e for e in events(tmp_path, "samples") if e["label"] == "level"]
    assert all({"hoop", "axial", "pressure"} <= set(cast("dict[str, object]", e["values"])) for e in levels)


@pytest.mark.parametrize(
    ("instrument", "policy", "said"),
    [
        ("pump", "{times: 1}", "commands are never sent again"),
        ("insulation tester", "{times: 1}", "commands are never sent again"),
        ("bridge", "{times: 10, wait: 5 s}", "no interlock is watched meanwhile"),
        ("bridge", "{times: 0}", ""),
    ],
)
def test_a_policy_that_must_not_be(planned: Callable[..., Plan], instrument: str, policy: str, said: str) -> None:
    old, new = allowed(instrument, policy)
    changed = new.replace(f"    retries: {policy}\n", "").replace("    driver:", f"    retries: {policy}\n    driver:")
    with pytest.raises(DocumentError) as raised:
        planned(STEPS, (old, changed))
    assert said in str(raised.value)


def test_a_person_needs_no_policy(registry: Registry) -> None:
    text = (SPOOL.parents[2] / "rigs" / "beam" / "rig.yaml").read_text("utf-8")
    with pytest.raises(DocumentError, match="a person looks again without being told to"):
        load_rig(
            text=text.replace("    driver: manual meter\n", "    driver: manual meter\n    retries: {times: 1}\n", 1),
            registry=registry,
        )
