"""A pressure rig with one thermometer that is read by hand: nobody types every second, and limits are watched on."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest

from rigproof.errors import DocumentError
from rigproof.journal import Entry, read_journal
from rigproof.people import Question
from rigproof.run.plan import Plan
from rigproof.run.progress import Silent
from rigproof.run.runner import run
from rigproof.run.simulated import reach_of
from rigproof.verdict.judging import judge
from rigproof_twin.person import SimulatedPerson
from rigproof_twin.simulator import SimulatedRig, StrainRig

TRANSMITTER = "TCPIP::192.0.2.14::5025::SOCKET"
BY_HAND = (
    """\
    driver: thermometer
    resource: TCPIP::192.0.2.15::5025::SOCKET
    timeout: 5 s
    identity: {maker: Test bay, model: thermometer, serial number: T-0031}
""",
    """\
    driver: manual meter
    resource: by hand
    identity: {serial number: T-0031}
    settings:
      inputs:
        1: {label: water, reads: temperature, unit: °C, resolution: 0.1 K, lowest: 5 °C, highest: 40 °C}
""",
)
PROOF = """\
  - resistance: {}
  - insulation: {}
  - balance: {settle: 5 s}
  - cycles: {source: pump, to: 25 bar, times: 2, levels: 2, exercise: 0, dwell: 2 s, rest: 5 s}
  - proof: {source: pump, to: 35.75 bar, stages: [50 %, 100 %], dwell: 10 s, hold: 1 min, rest: 10 s}
"""


@pytest.fixture
def hand_read(planned: Callable[..., Plan]) -> Plan:
    return planned(PROOF, BY_HAND)


@pytest.fixture
def simulated(hand_read: Plan, spool_folder: Path) -> SimulatedRig:
    rig = StrainRig().open(hand_read.rig, spool_folder / "twin.yaml", 0, ())
    assert isinstance(rig, SimulatedRig)
    return rig


def acceptance(plan: Plan, rig: SimulatedRig, folder: Path) -> tuple[Entry, ...]:
    try:
        return read_journal(run(plan, reach_of(rig), folder, Silent())).entries
    finally:
        rig.close()


def test_the_pressure_is_watched_while_somebody_reads(hand_read: Plan, simulated: SimulatedRig, tmp_path: Path) -> None:
    entries = acceptance(hand_read, simulated, tmp_path)
    verdict = judge(read_journal(tmp_path / "journal.jsonl"), hand_read.registry)
    assert verdict.verdict == "accept", verdict.why
    values = [entry for entry in entries if entry.data.get("label") == "thermometer value 1"]
    assert len(values) == 2  # before and after the hold: never every second
    for asked in values:
        during = [e.t for e in entries if asked.t - 8.0 < e.t <= asked.t and e.data.get("label") == "watch"]
        assert len(during) >= 7
        assert max(later - earlier for earlier, later in pairwise(during)) < 2.0


def test_a_lost_transmitter_ends_the_run_while_somebody_reads(
    hand_read: Plan, simulated: SimulatedRig, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = SimulatedPerson.answer

    def transmitter_dies(person: SimulatedPerson, question: Question, check: Callable[[], None]) -> str:
        if question.label == "thermometer value 1":
            monkeypatch.setattr(simulated.bench.instruments[TRANSMITTER], "alive", False)
        return answer(person, question, check)

    monkeypatch.setattr(SimulatedPerson, "answer", transmitter_dies)
    entries = acceptance(hand_read, simulated, tmp_path)
    (asked,) = (entry for entry in entries if entry.data.get("label") == "thermometer value 1")
    assert asked.data["answer"] is None
    end = entries[-1].data
    assert end["how"] == "instrument lost"
    assert "transmitter" in end["why"]


DIAL = (
    "\ninstruments:\n",
    """
  dial: {measures: gauge pressure, instrument: dial, input: 1, accuracy: {fixed: 0.4 bar}}

instruments:
  dial:
    driver: manual meter
    resource: by hand
    settings:
      inputs: {1: {label: dial, reads: gauge pressure, unit: bar, resolution: 0.5 bar, lowest: 0 bar, highest: 60 bar}}
""",
)


def test_a_dial_shows_the_pressure(planned: Callable[..., Plan], spool_folder: Path) -> None:
    rig = StrainRig().open(planned(PROOF, DIAL).rig, spool_folder / "twin.yaml", 0, ())
    assert isinstance(rig, SimulatedRig)
    assert rig.answers is not None
    rig.world.source.set_rate(1e5)
    rig.world.source.set_target(25e5)
    rig.world.source.enable(True)
    rig.clock.wait(120.0)
    assert rig.answers.answer(Question("dial", "value", "1", ""), lambda: None) == "25.0 bar"
    rig.close()


def test_the_twin_says_what_it_has_no_meter_of(planned: Callable[..., Plan], spool_folder: Path) -> None:
    old, new = DIAL
    new = new.replace("measures: gauge pressure", "measures: length").replace("reads: gauge pressure", "reads: length")
    rig = planned(PROOF, (old, new.replace("bar", "mm"))).rig
    with pytest.raises(DocumentError, match=r"rig\.yaml:\d+:\d+: channels\.dial\.measures: the twin has no length"):
        StrainRig().open(rig, spool_folder / "twin.yaml", 0, ())
