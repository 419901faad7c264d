"""What who watches a run is told beside its readings: what comes next, how long it takes, what ought to be read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from rigproof.plugins import Registry
from rigproof.run.agenda import Agenda
from rigproof.run.expecting import Expecting
from rigproof.run.interlocks import Interlocks
from rigproof.run.opening import Reach
from rigproof.run.plan import Plan, make_plan
from rigproof.run.progress import Reading, Silent, just_read
from rigproof.verdict.record import Verdict

Acceptance = Callable[..., Verdict]
HOLD = "  - proof: {source: pump, to: 20 bar, stages: [50 %, 100 %], dwell: 2 s, hold: 60 s, rest: 2 s}\n"
SETTLE = "  - balance: {channels: all strain, settle: 20 s}\n"
# by hand, Lamé's closed tube of 219.1 mm x 4.52 mm at 206 GPa and 0.29: 9.44 µε/bar of hoop strain outside
HOOP_PER_PA = 9.44e-11


@pytest.fixture
def short(spool: Plan, spool_folder: Path, tmp_path: Path) -> Plan:
    folder = tmp_path / "rig"
    folder.mkdir()
    for name in ("rig.yaml", "twin.yaml"):
        (folder / name).write_text((spool_folder / name).read_text("utf-8"), "utf-8")
    (folder / "acceptance.yaml").write_text(f"rigproof: procedure/1\nname: x\nsteps:\n{SETTLE}{HOLD}", "utf-8")
    return make_plan(folder, spool.registry)


@pytest.fixture
def unarmed(spool: Plan, spool_folder: Path, tmp_path: Path) -> Plan:
    """The spool without arming, whose limits are set for the test by what is read: nobody knows their words before."""
    folder = tmp_path / "unarmed"
    folder.mkdir()
    for name in ("rig.yaml", "twin.yaml", "acceptance.yaml"):
        lines = (spool_folder / name).read_text("utf-8").splitlines()
        (folder / name).write_text("\n".join(line for line in lines if "- arming:" not in line), "utf-8")
    return make_plan(folder, spool.registry)


class Following(Silent):
    """Asks the agenda what comes next, and sees what comes."""

    def __init__(self) -> None:
        self.foretold: list[str] = []
        self.came: list[str] = []
        self.left: list[tuple[float, float]] = []  # of the run: as told, and the run's time

    def begun(self, plan: Plan, reach: Reach, folder: Path) -> None:
        self.agenda = Agenda(plan)
        self.remarks = {remark for step in plan.procedure.steps for remark in step.remarks()}

    def step(self, number: int, of: int, kind: str) -> None:
        self._comes(f"step {number}: {kind}")
        self.agenda.step(number)

    def say(self, text: str) -> None:
        if text not in self.remarks and not text.startswith(("opening", "pump safe")):
            self._comes(text)

    def waiting(self, text: str, left_s: float, now_s: float) -> None:
        self._comes(text)
        self.left.append((self.agenda.run_left_s(left_s), now_s))

    def _comes(self, text: str) -> None:
        if self.came[-1:] != [text]:
            self.foretold.append(self.agenda.next)
            self.came.append(text)
        self.agenda.follow(text)


def test_the_agenda_tells_what_comes_next(accept: Acceptance, unarmed: Plan, tmp_path: Path) -> None:
    following = Following()
    assert accept(unarmed, tmp_path, progress=following).verdict == "accept"
    assert len(following.came) > 90
    assert following.foretold == following.came
    assert following.agenda.next == "the source to its safe state, then the verdict"
    ends = following.left[-1][1] + following.left[-1][0]
    for left, now in following.left:
        assert now + left == pytest.approx(ends, rel=0.1)  # the twin takes somewhat longer than paper


def test_what_is_not_on_the_agenda_changes_nothing(unarmed: Plan) -> None:
    agenda = Agenda(unarmed)
    assert agenda.next == "step 1: resistance"
    agenda.step(6)
    first = agenda.next
    agenda.follow("rise stopped: not accepted: strain under load of hoop")
    assert agenda.next == first == "rest before the zero"
    agenda.follow("lowering: pump to 0 bar")  # a rise that was stopped goes there at once
    assert agenda.next == "rest after lowering"
    assert agenda.step_left_s(0.0) == pytest.approx(60, abs=3)


def test_a_step_that_cannot_be_taken_on_paper_is_left_out(spool: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    kind = type(spool.procedure.steps[0])
    monkeypatch.setattr(kind, "acquire", lambda *_: 1 / 0)
    agenda = Agenda(spool)
    agenda.step(1)
    assert agenda.next == "step 2: insulation"


class Looking(Silent):
    looks = True

    def __init__(self) -> None:
        self.seen: list[Mapping[str, Reading]] = []

    def reading(self, text: str, values: Mapping[str, Reading]) -> None:
        self.seen.append(values)

    def under_load(self) -> list[Mapping[str, Reading]]:
        return [
            look
            for look in self.seen
            if {"pressure", "hoop"} <= look.keys() and (look["pressure"].value or 0.0) > 5e5 and look["hoop"].expected
        ]


def test_a_sound_rig_reads_what_it_ought_to(accept: Acceptance, short: Plan, tmp_path: Path) -> None:
    looking = Looking()
    assert accept(short, tmp_path, progress=looking).verdict == "accept"
    looks = looking.under_load()
    assert len(looks) > 60
    for look in looks:
        hoop, pressure = look["hoop"], look["pressure"]
        assert hoop.expected == pytest.approx(HOOP_PER_PA * (pressure.value or 0.0), rel=0.01)
        assert hoop.U is not None
        assert 0.02 < hoop.U / (hoop.expected or 1.0) < 0.05  # the checks of stage and hold have 3.4 %
        assert not hoop.apart
        assert hoop.shown.endswith(" µε")
    assert {look["pressure"].target for look in looks} >= {20.2e5, 10.1e5}
    assert all(look["pressure"].expected is None for look in looks)
    first = next(look for look in looking.seen if "hoop" in look)["hoop"]
    assert (first.kind, first.expected) == ("bridge output", None)  # strain has no zero yet


def test_what_was_read_between_two_looks_is_shown_with_its_own_time(
    accept: Acceptance, short: Plan, tmp_path: Path
) -> None:
    """Nothing watches the axial gauge in the hold, and who looks then still sees what it read at its begin."""

    class InTheHold(Looking):
        looks = False

        def waiting(self, text: str, left_s: float, now_s: float) -> None:
            self.looks = text == "hold" and left_s < 50

    looking = InTheHold()
    accept(short, tmp_path, progress=looking)
    first = looking.seen[0]
    assert {"pressure", "hoop", "axial"} <= first.keys()
    assert 9.0 < first["pressure"].at_s - first["axial"].at_s < 14.0
    assert not first["axial"].apart
    assert set(just_read(first)) == {"pressure", "hoop", "water"}
    assert "axial" not in looking.seen[1]


def test_a_loose_gauge_is_seen_at_once(accept: Acceptance, short: Plan, tmp_path: Path) -> None:
    looking = Looking()
    accept(short, tmp_path, flaws=["loose-gauge"], progress=looking)
    assert [look for look in looking.under_load() if not look["hoop"].apart] == []
    assert looking.under_load()


def test_a_gauge_is_expected_as_on_its_packet(accept: Acceptance, short: Plan, tmp_path: Path) -> None:
    text = (tmp_path / "rig" / "acceptance.yaml").read_text("utf-8")
    (tmp_path / "rig" / "acceptance.yaml").write_text(
        text.replace(SETTLE + HOLD, "  - resistance: {channels: all strain}\n")
    )
    looking = Looking()
    accept(make_plan(tmp_path / "rig", short.registry), tmp_path, progress=looking)
    hoop = next(look["hoop resistance"] for look in looking.seen if "hoop resistance" in look)
    assert hoop.expected == 350.0
    limits = 0.003 * 350.0 / 3**0.5
    assert hoop.U is not None
    assert abs(hoop.U - 2.576 * limits) < 0.01 * limits  # 0.3 % rectangular, at 99 %
    assert not hoop.apart


def test_a_model_that_fails_ends_no_run(
    accept: Acceptance, short: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("rigproof.run.expecting.predicted_strain", lambda *_: 1 / 0)
    looking = Looking()
    assert accept(short, tmp_path, progress=looking).verdict == "accept"
    assert looking.under_load() == []


def test_several_sources_have_no_expected_strain(short: Plan) -> None:
    second = short.rig.sources["pump"].model_copy(update={"name": "press", "channel": "water"})
    rig = replace(short.rig, sources={**short.rig.sources, "press": second})
    expecting = Expecting(short.procedure.decision, Interlocks(rig))
    for name in ("pressure", "hoop", "water"):
        expecting.zero(name, 0.0)
    values = {"pressure": np.array([1e6]), "hoop": np.array([1e-4]), "water": np.array([20.0])}
    assert expecting.readings(rig, values, 0.0)["hoop"].expected is None


def test_a_strain_without_a_zero_is_shown_as_the_person_reads_it(registry: Registry, short: Plan) -> None:
    """An indicator set to k = 2.00 shows 4 U/k: 725 µV/V are 1450 µε (definition of the gauge factor)."""
    beam = make_plan(Path(__file__).parents[3] / "rigs" / "beam", registry)
    expecting = Expecting(beam.procedure.decision, Interlocks(beam.rig))
    assert expecting.readings(beam.rig, {"top": np.array([725e-6])}, 0.0)["top"].shown == "1450 µε"
    machine = Expecting(short.procedure.decision, Interlocks(short.rig))
    assert machine.readings(short.rig, {"hoop": np.array([725e-6])}, 0.0)["hoop"].shown == "0.725 mV/V"
