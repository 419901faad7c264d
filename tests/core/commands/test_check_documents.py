"""`rigproof check`: what it says beyond the faults of the documents."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.errors import ExitCode, InstrumentError

FAR_AWAY = tuple((f"due: {day}", "due: 2999-01-01") for day in ("2027-03-31", "2027-02-28", "2027-03-01"))
Capture = pytest.CaptureFixture[str]
Changed = Callable[..., Path]


@pytest.fixture
def changed(spool_folder: Path, tmp_path: Path) -> Changed:
    """A function: a document of the spool and changes (old, new) of it -> a folder with all three."""

    def make(name: str, *changes: tuple[str, str]) -> Path:
        rig = tmp_path / "rig"
        if not rig.exists():
            shutil.copytree(spool_folder, rig)
        text = (rig / name).read_text("utf-8")
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        (rig / name).write_text(text, "utf-8")
        return rig

    return make


def said(rig: Path, capsys: Capture, code: ExitCode = ExitCode.ACCEPT) -> str:
    assert run(["check", str(rig)]) == code
    return capsys.readouterr().out


def test_nothing_is_amiss_on_the_spool(spool_folder: Path, capsys: Capture) -> None:
    out = said(spool_folder, capsys)
    assert "7 steps, 62 checks foreseen\n" in out
    assert "CANNOT BE ACCEPTED" not in out
    assert "cannot be simulated" not in out


def test_what_can_never_be_accepted_is_counted_and_named(changed: Changed, capsys: Capture) -> None:
    rig = changed(
        "acceptance.yaml", ("to: 25 bar", "to: 2 bar"), ("zero return: within 1 %", "zero return: within 0.1 %")
    )
    out = said(rig, capsys)
    assert "CANNOT BE ACCEPTED as planned, not even on a sound rig:\n    - 6 cycles: " in out
    assert "zero return of hoop" in out
    assert run(["check", str(rig), "--json"]) == ExitCode.ACCEPT
    found = json.loads(capsys.readouterr().out)
    count = len(found["cannot_be_accepted"])
    assert count >= 2
    assert count + len(found["often_undecided"]) == out.count("    - ")
    assert f"62 checks foreseen, {count} of them cannot be accepted" in out


def test_a_rise_that_would_be_stopped_is_told_with_what_it_costs(changed: Changed, capsys: Capture) -> None:
    out = said(changed("acceptance.yaml", ("stages: [50 %", "proportionality: within 0.01 %, stages: [50 %")), capsys)
    assert "step 7 proof would be stopped, and its later checks do not take place" in out
    assert "7 proof: the rise would be stopped" in out


def test_a_calibration_that_ran_out_is_told(changed: Changed, capsys: Capture) -> None:
    out = said(changed("rig.yaml", ("due: 2027-03-15", "due: 2020-03-15")), capsys)
    assert (
        "the calibration of transmitter (certificate 2026-0305) ran out on 2020-03-15: a run cannot be accepted" in out
    )


@pytest.mark.parametrize(
    ("days", "told"),
    [
        (0, "today is the last day: have it calibrated in time, or end the run by then"),
        (1, "tomorrow is the last day"),
        (30, "30 days from today"),
        (31, ""),
    ],
)
def test_a_calibration_that_runs_out_soon_is_told(changed: Changed, capsys: Capture, days: int, told: str) -> None:
    """Nobody is told of one that ran out that it will run out soon."""
    day = datetime.now(UTC).date() + timedelta(days=days)
    out = said(changed("rig.yaml", ("due: 2027-03-15", f"due: {day}"), *FAR_AWAY), capsys)
    (found,) = [line for line in out.splitlines() if "calibration of" in line] or [""]
    if told:
        assert f"The calibration of transmitter (certificate 2026-0305) counts until {day}, {told}" in found
    else:
        assert not found


def test_a_channel_that_nothing_uses_is_told(changed: Changed, capsys: Capture) -> None:
    """The spool's without its resistance step; what interlocks watch and what a source is measured by is used."""
    step = "  - resistance: {channels: [hoop, axial], change from packet: within 0.5 %}\n"
    rig = changed("acceptance.yaml", (step, ""))
    found = said(rig, capsys)
    assert "Nothing uses hoop resistance, axial resistance: no step of this procedure reads it, no interlock" in found


def test_both_channels_of_an_interlock_are_used(changed: Changed, capsys: Capture) -> None:
    """Where no step provokes it: only a run reads the other one then."""
    apart = "  apart: {channel: wall temperature, against: water, apart by more than: 20 K}\n"
    rig = changed("rig.yaml", ("interlocks:\n", f"interlocks:\n{apart}"))
    steps = "rigproof: procedure/1\nname: x\nsteps:\n  - balance: {}\n  - shunt: {resistor: 174.8 kΩ ± 0.1 %}\n"
    (rig / "acceptance.yaml").write_text(steps, "utf-8")
    found = said(rig, capsys)
    assert "water" not in next(line for line in found.splitlines() if "Nothing uses" in line)
    assert "No check of this procedure rests on water, watched by interlocks alone: nobody will have seen" in found


def test_nothing_is_unused_where_a_step_cannot_be_rehearsed(
    changed: Changed, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise InstrumentError("ohmmeter", "cannot")

    monkeypatch.setattr("rigproof.steps.resistance.Resistance.acquire", fail)
    assert "Nothing uses" not in said(changed("rig.yaml"), capsys, ExitCode.WRONG_INPUT)


def test_an_interlock_below_the_highest_load_is_refused_at_the_step(changed: Changed, capsys: Capture) -> None:
    rig = changed("rig.yaml", ("channel: pressure, above: 38 bar", "channel: pressure, above: 30 bar"))
    assert run(["check", str(rig)]) == ExitCode.WRONG_INPUT
    told = capsys.readouterr().err
    assert "steps[7].proof.to: the step goes to 36.11 bar, and interlock 'overpressure' would trip on the way" in told


HALF = "model: quarter bridge, wires: 3", "model: half bridge, arrangement: opposite arms"
CANNOT = "channels.hoop.reduction.model: the twin has no half bridge"


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("rig.yaml", HALF, CANNOT),
        (
            "rig.yaml",
            ("filling: water", "filling: air\n  volume: 40 l"),
            "part.filling: the twin has no physics for air",
        ),
        ("twin.yaml", ("noise: 0.03 µV/V", "noise: -0.03 µV/V"), "instruments.bridge.noise: '-0.03 µV/V' is negative"),
    ],
)
def test_what_cannot_be_simulated_is_placed(
    changed: Changed, capsys: Capture, name: str, change: tuple[str, str], words: str
) -> None:
    out = said(changed(name, change), capsys)
    assert "It cannot be simulated: " in out
    assert f"{name}:" in out
    assert words in out


def test_nobody_asks_to_simulate_without_a_twin(changed: Changed, capsys: Capture) -> None:
    rig = changed("rig.yaml", HALF)
    (rig / "twin.yaml").unlink()
    assert "simulated" not in said(rig, capsys)


def test_a_simulated_run_says_the_place_too(changed: Changed, tmp_path: Path, capsys: Capture) -> None:
    rig = changed("rig.yaml", HALF)
    assert run(["run", str(rig), "--simulated", "--out", str(tmp_path / "out")]) == ExitCode.WRONG_INPUT
    err = capsys.readouterr().err
    assert CANNOT in err
    assert "the twin knows quarter bridge" in err


@pytest.mark.parametrize(
    ("change", "message", "remedy"),
    [
        (("hold: 10 min", "hold: 0 min"), "proof.hold: '0 min' is out of bounds", "it must be above 0 s"),
        (("to: 35.75 bar", "to: -0.5 bar"), "proof.to: -0.5 bar is a vacuum", "write a pressure above 0"),
        (
            ("test voltage: 50 V", "test voltage: 500 V"),
            "'500 V' is not above 0 V and at most 50 V",
            "test a gauge with",
        ),
        (("permanent set: within 1 %", "permanent set: within 1"), "'1' without a % is 100 %", "write 1 % or 0.01"),
        (("stages: [50 %, 70 %, 85 %, 100 %]", "stages: [50 %]"), "50 % is the last stage", "write stages such as"),
    ],
)
def test_nonsense_in_a_procedure_has_place_and_remedy(
    changed: Changed, capsys: Capture, change: tuple[str, str], message: str, remedy: str
) -> None:
    assert run(["check", str(changed("acceptance.yaml", change))]) == ExitCode.WRONG_INPUT
    err = capsys.readouterr().err
    assert message in err
    assert f"\n    {remedy}" in err


def test_an_excitation_out_of_bounds_has_its_remedy(changed: Changed, capsys: Capture) -> None:
    assert run(["check", str(changed("rig.yaml", ("excitation: 2.5 V", "excitation: 25 V")))]) == ExitCode.WRONG_INPUT
    assert "\n    feed a bridge with 1 V to 5 V" in capsys.readouterr().err


def test_the_plan_and_the_run_say_why_the_pump_goes_above_the_proof_pressure(
    spool_folder: Path, tmp_path: Path, capsys: Capture
) -> None:
    why = (
        "1 % above the proof load (`margin:`), so that the lowest reading of the hold less its uncertainty still shows"
    )
    assert run(["plan", str(spool_folder)]) == ExitCode.ACCEPT
    assert f"The source aims at 36.11 bar, {why} 35.75 bar." in " ".join(capsys.readouterr().out.split())
    assert run(["run", str(spool_folder), "--simulated", "--out", str(tmp_path)]) == ExitCode.ACCEPT
    assert why in capsys.readouterr().out


def test_a_plan_by_simple_acceptance_says_where_the_risk_counts(changed: Changed, capsys: Capture) -> None:
    rig = changed("acceptance.yaml", ("rule: guarded acceptance", "rule: simple acceptance"))
    assert run(["plan", str(rig)]) == ExitCode.ACCEPT
    assert "simple acceptance, risk 5 % where a tolerance is computed" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("name", "old", "new", "place"),
    [
        ("acceptance.yaml", "zero return: within 1 %", "zero return: within 0,5 %", "cycles.5 %: unknown key"),
        ("acceptance.yaml", "174.8 kΩ ± 0.1 %", "174,800 Ω", "shunt.800 Ω: unknown key"),
        ("rig.yaml", "value: 4.52 mm", "value: 4,52 mm", "wall.52 mm: unknown key"),
    ],
)
def test_a_decimal_comma_is_one_fault(
    changed: Changed, capsys: Capture, name: str, old: str, new: str, place: str
) -> None:
    assert run(["check", str(changed(name, (old, new)))]) == ExitCode.WRONG_INPUT
    err = capsys.readouterr().err
    assert place in err
    assert "write decimals with a point" in err
    assert [line.strip(" ^") for line in err.splitlines()].count("") == 1


def test_without_a_twin_nothing_is_simulated(changed: Changed, capsys: Capture) -> None:
    folder = changed("rig.yaml")
    (folder / "twin.yaml").unlink()
    assert run(["run", str(folder), "--simulated"]) == ExitCode.WRONG_INPUT
    assert "without it nothing can be simulated" in capsys.readouterr().err
