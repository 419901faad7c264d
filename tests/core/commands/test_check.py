"""`check --connect`: one table that changes nothing, and names what stands in the way."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import cast

import numpy as np
import pytest

from rigproof.__main__ import run
from rigproof.commands.check import _lines
from rigproof.errors import ExitCode
from rigproof.instruments import Driver, FloatArray, Settings
from rigproof.run.looking import look
from rigproof.run.plan import Plan
from rigproof.run.simulated import reach_of, simulation
from rigproof_scpi.ohmmeter import Ohmmeter
from rigproof_twin import faults
from rigproof_twin.faults import Fault, FaultyWire
from rigproof_twin.simulator import SimulatedRig


@pytest.fixture
def rig(spool: Plan, spool_folder: Path) -> SimulatedRig:
    return cast("SimulatedRig", simulation(spool.rig, spool_folder, spool.registry, 0, ()))


def wired(rig: SimulatedRig, plan: Plan, instrument: str, fault: Fault) -> None:
    rig.bench.instruments[plan.rig.instruments[instrument].resource].wire = FaultyWire(fault)


def settings(rig: SimulatedRig) -> str:
    """All that a look must leave as it is."""
    amplifier = next(i for i in rig.bench.instruments.values() if i.kind == "bridge amplifier")
    source = rig.world.source
    kept = {name: vars(amplifier)[name] for name in ("excitation_v", "shunted")}
    return repr((kept, source.enabled, source.connected, source.target_pa, source.rate_pa_per_s))


def test_one_row_an_instrument(spool_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", str(spool_folder), "--connect", "--simulated"]) == ExitCode.ACCEPT
    out = capsys.readouterr().out
    (row,) = [line for line in out.splitlines() if line.startswith("transmitter")]
    assert re.search(r"10 ms +none +2027-03-15 .*P-0220; pressure -?0\.0\d+ bar, noise 0\.00\d+ bar$", row)
    assert run(["check", str(spool_folder), "--connect", "--simulated", "--json"]) == ExitCode.ACCEPT
    found = {each["instrument"]: each for each in json.loads(capsys.readouterr().out)["instruments"]}
    # twin.yaml: 5 ms for a reply, and a reading asks for its errors too
    assert found["transmitter"]["latency_s"] == pytest.approx(0.010)
    assert found["transmitter"]["round_s"] is None  # it has one input
    assert found["ohmmeter"]["round_s"] > found["ohmmeter"]["latency_s"]  # a query for each of its inputs
    assert re.search(r"^ohmmeter .* ms, all \d+ ms ", out, re.MULTILINE)
    assert found["pump"]["safe"] is True
    assert found["insulation tester"]["latency_s"] == pytest.approx(0.020)


def test_readings_that_are_all_alike_have_no_noise(
    spool: Plan, rig: SimulatedRig, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The mean of ten times 0.1 is not 0.1, and the spread about it no noise."""

    def still(_: Ohmmeter, inputs: Sequence[int], count: int, _interval_s: float) -> FloatArray:
        return np.full((count, len(inputs)), 350.1)

    monkeypatch.setattr(Ohmmeter, "read", still)
    (found,) = look(spool.rig, reach_of(rig), ["ohmmeter"])
    assert found.noise["hoop resistance"] == "0 Ω"


def test_readings_about_zero_have_the_mean_zero(
    spool: Plan, rig: SimulatedRig, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And not what rounding leaves of it."""

    def about_zero(_: Ohmmeter, inputs: Sequence[int], count: int, _interval_s: float) -> FloatArray:
        return np.tile(np.array([0.1, 0.2, -0.3]), 10)[:count, None] * np.ones(len(inputs))

    monkeypatch.setattr(Ohmmeter, "read", about_zero)
    monkeypatch.setattr("rigproof.run.looking.READINGS", 18)
    (found,) = look(spool.rig, reach_of(rig), ["ohmmeter"])
    assert found.readings["hoop resistance"] == "0 Ω"


def test_a_channel_without_a_reading_is_to_be_minded(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def over(_: Ohmmeter, inputs: Sequence[int], count: int, _interval_s: float) -> FloatArray:
        return np.full((count, len(inputs)), np.nan)

    look_at = ["check", str(Path(__file__).parents[3] / "rigs" / "spool"), "--connect", "--simulated"]
    assert run([*look_at, "--only", "thermometer"]) == ExitCode.ACCEPT
    assert capsys.readouterr().out.splitlines()[-1] == "nothing stands against a run"
    monkeypatch.setattr(Ohmmeter, "read", over)
    assert run([*look_at, "--only", "ohmmeter"]) == ExitCode.ACCEPT
    told = capsys.readouterr().out
    assert "hoop resistance no reading: overload or open circuit" in told
    assert told.splitlines()[-1] == f"nothing stands against a run{MIND}"


def test_an_error_that_is_told_again_and_again_stands_there_once(
    spool_folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Ohmmeter, "errors", lambda _: ["low supply", "probe"] * 32)
    assert run(["check", str(spool_folder), "--connect", "--simulated", "--only", "ohmmeter"]) == ExitCode.VOID
    told = capsys.readouterr().out
    assert "still reports low supply (32 times); probe (32 times) when asked again" in told
    assert told.count("low supply") == 2  # in the table, and under it


MIND = ", and what is said above is to be minded"


def test_the_last_line_says_that_nothing_stands_against_a_run(
    spool_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["check", str(spool_folder)]) == ExitCode.ACCEPT
    last = capsys.readouterr().out.splitlines()[-1]
    assert last.startswith("nothing stands against a run with --simulated")
    assert last.endswith("without it one is refused: 192.0.2.11 and 5 more are addresses for examples (RFC 5737)")
    shutil.copytree(spool_folder, tmp_path / "rig")
    described = (tmp_path / "rig" / "rig.yaml").read_text("utf-8").replace("192.0.2.", "10.0.2.")
    (tmp_path / "rig" / "rig.yaml").write_text(described, "utf-8")
    assert run(["check", str(tmp_path / "rig")]) == ExitCode.ACCEPT
    assert capsys.readouterr().out.splitlines()[-1].removesuffix(MIND) == "nothing stands against a run"
    procedure = tmp_path / "rig" / "acceptance.yaml"
    procedure.write_text("rigproof: procedure/1\nname: x\nsteps:\n  - balance: {}\n", "utf-8")
    assert run(["check", str(tmp_path / "rig")]) == ExitCode.ACCEPT
    assert "nothing stands against" not in capsys.readouterr().out


def test_the_noise_is_that_of_the_twin(rig: SimulatedRig, spool: Plan) -> None:
    """0.03 µV/V at a gauge factor of 2.08 is 4/2.08 × 0.03 = 0.058 µε; 20 readings tell s to about 16 %."""
    looks = {each.instrument: each for each in look(spool.rig, reach_of(rig))}
    noise = float(looks["bridge"].noise["hoop"].split()[0])
    assert noise == pytest.approx(0.058, rel=0.6)


def test_the_reading_is_that_of_the_twin(rig: SimulatedRig, spool: Plan) -> None:
    """twin.yaml: 20 °C at the start; 350 Ω. rig.yaml: the transmitter may be out by 0.02 bar without load."""
    looks = {each.instrument: each for each in look(spool.rig, reach_of(rig))}
    readings = {channel: text.split() for each in looks.values() for channel, text in each.readings.items()}
    assert float(readings["water"][0]) == pytest.approx(20.0, abs=0.1)
    assert float(readings["wall temperature"][0]) == pytest.approx(20.0, abs=0.2)
    assert abs(float(readings["pressure"][0])) < 0.025
    assert float(readings["hoop resistance"][0]) == pytest.approx(350.0, rel=0.01)
    assert readings["hoop"][1] == "mV/V"  # a strain would need a zero


def test_it_changes_nothing(rig: SimulatedRig, spool: Plan) -> None:
    rig.world.source.set_target(3e5)
    before = settings(rig)
    looks = list(look(spool.rig, reach_of(rig)))
    assert all(each.well for each in looks)
    assert not any(each.as_for_a_run for each in looks)
    assert settings(rig) == before


@pytest.mark.parametrize("has_settings", [True, False])
def test_a_driver_that_cannot_only_look_is_named_where_it_may_have_set_something(
    rig: SimulatedRig, spool: Plan, has_settings: bool
) -> None:
    """What has no settings is opened as it is looked at."""
    known = spool.rig.instruments["thermometer"]

    class Opens(known.driver):  # type: ignore[name-defined,misc]  # the same, without a `look` of its own
        settings_model = known.driver.settings_model if has_settings else Settings
        look = Driver.look

    changed = known.model_copy(update={"driver": Opens})
    plan_rig = replace(spool.rig, instruments={**spool.rig.instruments, "thermometer": changed})
    looks = list(look(plan_rig, reach_of(rig)))
    said = [line for line in _lines(looks) if "opened as for a run" in line]
    assert [line.rpartition(": ")[2] for line in said] == (["thermometer"] if has_settings else [])


def test_a_source_that_is_on_is_told_and_left_alone(
    rig: SimulatedRig, spool: Plan, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    rig.world.source.set_target(3e5)
    rig.world.source.enable(True)
    monkeypatch.setattr("rigproof.commands.check.simulation", lambda *_: rig)
    assert run(["check", str(Path(spool.rig.file).parent), "--connect", "--simulated"]) == ExitCode.VOID
    assert "!!! pump: NOT IN ITS SAFE STATE" in capsys.readouterr().out
    assert rig.world.source.enabled


def test_addresses_for_examples_stand_against_a_rig_that_cannot_be_simulated(
    spool_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`run` refuses it, and there is no other way to take it."""
    shutil.copytree(spool_folder, tmp_path / "rig", ignore=shutil.ignore_patterns("twin.yaml", "nightly.yaml"))
    assert run(["check", str(tmp_path / "rig"), "--json"]) == ExitCode.ACCEPT
    (said,) = json.loads(capsys.readouterr().out)["against_live"]
    described = (tmp_path / "rig" / "rig.yaml").read_text("utf-8")
    written = described.replace("\npart:\n", "\nsite: fill in\npart:\n", 1).replace("192.0.2.", "10.0.2.")
    (tmp_path / "rig" / "rig.yaml").write_text(written, "utf-8")
    assert run(["check", str(tmp_path / "rig"), "--json"]) == ExitCode.ACCEPT
    assert json.loads(capsys.readouterr().out)["against_live"] == ["'fill in' still stands in rig.yaml"]
    (tmp_path / "rig" / "rig.yaml").write_text(described, "utf-8")
    assert run(["check", str(tmp_path / "rig")]) == ExitCode.ACCEPT
    told = capsys.readouterr().out
    assert f"  {said}: a run will be refused" in told
    assert "nothing stands against" not in told


def test_an_error_that_stays_stands_against_a_run(
    spool_folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A run refuses it; one that the first question clears away is told, and no more."""
    left = [["E05"], ["E05"]]
    monkeypatch.setattr(Ohmmeter, "errors", lambda _: left.pop() if left else [])
    look_at = ["check", str(spool_folder), "--connect", "--simulated", "--only", "ohmmeter"]
    assert run(look_at) == ExitCode.VOID
    assert "still reports E05 when asked again, and no run would begin: clear the cause" in capsys.readouterr().out
    left.append(["E05"])
    assert run(look_at) == ExitCode.ACCEPT
    told = capsys.readouterr().out
    assert "ohmmeter: E05" in told
    assert told.endswith("nothing stands against a run, and what is said above is to be minded\n")


def test_an_error_queue_is_shown_not_cleared_away(rig: SimulatedRig, spool: Plan) -> None:
    rig.bench.instruments[spool.rig.instruments["ohmmeter"].resource].status.report(-222)
    (found,) = [each for each in look(spool.rig, reach_of(rig)) if each.instrument == "ohmmeter"]
    assert found.errors == ('-222,"Data out of range"',)


@pytest.mark.parametrize(
    ("kind", "told"), [(faults.NO_REPLY, "silent to"), (faults.STRANGER, "another"), (faults.GARBAGE, "garbage")]
)
def test_what_stands_in_the_way(rig: SimulatedRig, spool: Plan, kind: str, told: str) -> None:
    wired(rig, spool, "ohmmeter", Fault(kind, 0, float("inf"), seed=1))
    looks = {each.instrument: each for each in look(spool.rig, reach_of(rig))}
    assert not looks["ohmmeter"].well
    assert told in looks["ohmmeter"].answer
    assert sum(not each.well for each in looks.values()) == 1


def test_at_a_served_bench(rig: SimulatedRig, spool: Plan, capsys: pytest.CaptureFixture[str]) -> None:
    service = rig.serve(0)
    folder = str(Path(spool.rig.file).parent)
    try:
        assert run(["check", folder, "--connect", "--bench", f"127.0.0.1:{service.clock_port}"]) == ExitCode.ACCEPT
    finally:
        rig.close()
    assert "P-0220" in capsys.readouterr().out


def test_only_these_are_opened(rig: SimulatedRig, spool_folder: Path, spool: Plan) -> None:
    """Every other instrument has heard nothing: its fault, which strikes once, is still to come."""
    for name in spool.rig.instruments:
        wired(rig, spool, name, Fault(faults.NO_REPLY, 0, 1, seed=1))
    looks = list(look(spool.rig, reach_of(rig), ["thermometer", "ohmmeter"]))
    assert [each.instrument for each in looks] == ["ohmmeter", "thermometer"]
    left = [each for each in look(spool.rig, reach_of(rig)) if not each.well]
    assert [each.instrument for each in left] == ["bridge", "insulation tester", "transmitter", "pump"]


def test_only_on_the_command_line(spool_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["check", str(spool_folder), "--connect", "--simulated", "--json"]
    assert run([*words, "--only", "pump", "--only", "bridge"]) == ExitCode.ACCEPT
    assert [each["instrument"] for each in json.loads(capsys.readouterr().out)["instruments"]] == ["bridge", "pump"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--bench", "127.0.0.1:1"], "--bench 127.0.0.1:1: says where --connect looks; write --connect, too"),
        (["--connect", "--only", "ohmeter"], "--only ohmeter: .*rig.yaml names no instrument 'ohmeter'; .*'ohmmeter'"),
        (["--connect", "--only", "zz"], "names no instrument 'zz'; known here: bridge, ohmmeter, "),
        (["--only", "pump"], "--only says which instruments --connect opens"),
    ],
)
def test_only_what_is_there(
    spool_folder: Path, capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    assert run(["check", str(spool_folder), *words]) == ExitCode.WRONG_INPUT
    assert re.search(told, capsys.readouterr().err)


def test_a_channel_without_reading(planned: Callable[..., Plan], spool_folder: Path) -> None:
    """Input 4 of the ohmmeter exists and has nothing wired to it."""
    plan = planned("  - balance: {}\n")
    rig = simulation(plan.rig, spool_folder, plan.registry, 0, ())
    elsewhere = planned(
        "  - balance: {}\n", ("instrument: ohmmeter\n    input: 3", "instrument: ohmmeter\n    input: 4")
    )
    looks = {each.instrument: each for each in look(elsewhere.rig, reach_of(rig))}
    rig.close()
    assert looks["ohmmeter"].readings["wall temperature"] == "no reading: overload or open circuit"
    assert looks["ohmmeter"].noise["wall temperature"] == "no reading: overload or open circuit"


def test_nobody_reads_by_hand_for_a_look(capsys: pytest.CaptureFixture[str]) -> None:
    """Who is asked says which instrument it is, and types no reading; where nobody is asked the run will ask."""
    beam = str(Path(__file__).parents[3] / "rigs" / "beam")
    for words, answers in (
        (["--simulated"], {"S-0031", "R-0117", "M-0020", "D-0005"}),
        ([], {"worked by hand, asked in the run"}),
    ):
        assert run(["check", beam, "--connect", "--json", *words]) == ExitCode.ACCEPT
        found = json.loads(capsys.readouterr().out)["instruments"]
        assert {each["answer"] for each in found} == answers
        assert all(each["noise"] == {} and each["latency_s"] is None and each["safe"] is None for each in found)
