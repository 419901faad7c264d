"""A further rig is documents and nothing else: three that a user wrote after the pages, in folders of their own."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from rigproof.__main__ import run
from rigproof.campaign.trial import Trial, take

ROOT = Path(__file__).parent.parent
CELL = """\
rigproof: rig/1
name: Small force cell under dead weights
part:
  model: force cell
  rated load: 60 N
  rated output: 1 mV/V ± 0.5 %
  combined error: 0.1 %
  safe load limit: 90 N
  gauge factor: 2
gauges:
  bridge: {at: bridge, resistance: 350 Ω ± 0.5 %, gauge factor: 2}
channels:
  cell:
    measures: strain
    gauge: bridge
    reduction: {model: full bridge, arrangement: bending, wires: 4, lead: 0.5 Ω ± 20 %}
    instrument: indicator
    input: 1
    accuracy: {of reading: 0.05 %, zero drift: 0.2 µV/V}
  load: {measures: force, instrument: weights, input: 1}
instruments:
  indicator:
    driver: manual meter
    resource: by hand
    settings:
      inputs:
        1: {label: indicator, reads: bridge output, unit: mV/V, resolution: 0.0001 mV/V,
            lowest: -0.2 mV/V, highest: 1.5 mV/V}
  weights:
    driver: manual source
    resource: by hand
    settings:
      weights: {A: 2 kg ± 0.05 %, B: 2 kg ± 0.05 %, C: 2 kg ± 0.05 %}
      gravity: 9.81 m/s² ± 0.05 %
  turning: {driver: manual rotation, resource: by hand}
sources:
  weights: {instrument: weights, channel: load, rate: 1 N/s, limit: 65 N, safe below: 0.5 N}
interlocks:
  overload: {channel: load, above: 62 N}
"""
CELL_PROCEDURE = """\
rigproof: procedure/1
name: Small force cell, by hand
steps:
  - balance: {channels: all strain, settle: 60 s, noise: left out}
  - force series:
      source: weights
      to: 58.85 N
      rotated by: turning
      levels: 3
      degree: 1
      rest: 1 min
      wanted class: ours
      classes from: what the scale is used for
      classes:
        ours: {reproducibility: within 1 %, repeatability: within 1 %, interpolation: within 1 %,
               reversibility: within 1 %, zero: within 1 %, creep: within 1 %}
"""
SHAFT = """\
rigproof: rig/1
name: Torsion shaft with a full bridge
part: {model: shaft, diameter: 40 mm ± 0.05 mm, material: carbon steel}
gauges:
  shear: {at: +45°, resistance: 350 Ω ± 0.3 %, gauge factor: 2.08 ± 0.5 %, transverse sensitivity: 0.4 % ± 0.2 %}
channels:
  shaft:
    measures: strain
    gauge: shear
    reduction: {model: full bridge, arrangement: torsion, wires: 6, lead: 0.3 Ω ± 20 %}
    instrument: bridge
    input: 1
    accuracy: {of reading: 0.05 %, zero drift: 0.05 µV/V}
  torque: {measures: torque, instrument: reference, input: 1, accuracy: {of reading: 0.1 %, zero drift: 0.1 N·m}}
instruments:
  bridge:
    driver: bridge amplifier
    resource: TCPIP::192.0.2.11::5025::SOCKET
    settings: {excitation: 2.5 V}
  reference:
    driver: described meter
    resource: TCPIP::192.0.2.12::4001::SOCKET
    timeout: 5 s
    settings: {quantity: torque, unit: N·m, identity: cannot say, read: {ask: "T?", reply: "{value} NM"}}
  drive:
    driver: described source
    resource: TCPIP::192.0.2.13::4001::SOCKET
    timeout: 5 s
    settings:
      quantity: torque
      unit: N·m
      identity: cannot say
      rate: {send: "RATE {rate}", unit: N·m/s}
      target: {send: "TORQUE {value}"}
      settled: {ask: "STATE", is: "HOLD", is not: "MOVE"}
      safe: {send: "STOP", ask: "DRIVE", is: "OFF", is not: "ON"}
sources:
  drive: {instrument: drive, channel: torque, rate: 10 N·m/s, limit: 600 N·m, safe below: 2 N·m}
interlocks:
  overload: {channel: torque, above: 550 N·m}
"""
SHAFT_PROCEDURE = """\
rigproof: procedure/1
name: Acceptance of a torsion shaft
steps:
  - balance: {channels: all strain, settle: 60 s}
  - shunt:   {channels: all strain, resistor: 100 kΩ ± 0.1 %}
  - cycles:  {source: drive, to: 500 N·m, times: 3, levels: 5, zero return: within 1 %}
"""
SHAFT_TWIN = """\
rigproof: twin/1
simulator: strain rig
temperature: {at start: 20 °C, drift: 0.5 K/h, swing: 0.02 K, period: 20 min}
gauges: {offset: 200 µε, creep: 0.1 %, leads: {spread: 2 %, temperature coefficient: 0.0039 1/K}}
instruments:
  bridge: {noise: 0.03 µV/V, latency: 2 ms, shunt resistor: 100 kΩ ± 0.1 %}
  reference: {noise: 0.02 N·m, latency: 5 ms, highest reading: 700 N·m}
  drive: {latency: 5 ms, time constant: 2 s, overshoot: 0.5 %, vent: 1 s, highest reading: 700 N·m}
"""
TWIN = "rigproof: twin/1\nsimulator: strain rig\n"


def folder(at: Path, rig: str, procedure: str, twin: str = TWIN) -> Path:
    made = at / "rig"
    made.mkdir()
    for name, text in (("rig.yaml", rig), ("acceptance.yaml", procedure), ("twin.yaml", twin)):
        (made / name).write_text(text, "utf-8")
    return made


def test_a_sphere_is_accepted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From `new rig`, whose pipe becomes a sphere by what `check` says: no ends, one place for gauges."""
    assert run(["new", "rig", "ball", "--in", str(tmp_path)]) == 0
    made = tmp_path / "ball"
    text = (made / "rig.yaml").read_text("utf-8").replace("model: cylinder", "model: sphere")
    (made / "rig.yaml").write_text(text, "utf-8")
    assert run(["check", str(made)]) == 4
    said = capsys.readouterr().err
    assert "part.ends: unknown key 'ends'" in said
    assert "gauges.hoop.at: 'hoop' is no place on a sphere" in said
    for old, new in (("  ends: closed\n", ""), ("at: hoop", "at: surface"), ("at: axial", "at: surface")):
        assert old in text
        text = text.replace(old, new)
    (made / "rig.yaml").write_text(text, "utf-8")
    assert run(["check", str(made)]) == 0
    assert run(["run", str(made), "--simulated", "--quiet", "--out", str(tmp_path / "out")]) == 0


def test_a_force_cell_under_weights_is_accepted(tmp_path: Path) -> None:
    """Nobody wrote a line of code for it: a part, a source and a step that meet here for the first time."""
    made = folder(tmp_path, CELL, CELL_PROCEDURE)
    assert run(["check", str(made)]) == 0
    assert run(["run", str(made), "--simulated", "--quiet", "--out", str(tmp_path / "out")]) == 0
    verdict = json.loads((tmp_path / "out" / "verdict.json").read_text("utf-8"))
    notes = {check["name"]: check["note"] for check in verdict["checks"] if check["step_kind"] == "force series"}
    assert notes["creep"] == "class ours by this figure"
    assert verdict["people"], "somebody rotated it"


def test_a_torsion_shaft_is_planned(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = folder(tmp_path, SHAFT, SHAFT_PROCEDURE, SHAFT_TWIN)
    assert run(["check", str(made)]) == 0
    assert run(["plan", str(made)]) == 0
    assert "sensitivity: shaft" in capsys.readouterr().out


@pytest.mark.parametrize("seed", range(20))
def test_a_sound_torsion_shaft_is_accepted(tmp_path: Path, seed: int) -> None:
    """On twenty draws of sizes, material, gauges, leads, amplifier and reference."""
    result = take(folder(tmp_path, SHAFT, SHAFT_PROCEDURE, SHAFT_TWIN), Trial((), seed))
    assert result.verdict == "accept", result.why


@pytest.mark.parametrize(
    ("flaw", "step", "check"),
    [
        ("turned-sign", "shunt", "shunt reading"),
        ("swapped-arms", "cycles", "sensitivity"),
        ("misaligned-gauges", "cycles", "sensitivity"),
        ("wrong-gauge-factor", "cycles", "sensitivity"),
        ("wrong-material", "cycles", "sensitivity"),
        ("soft-bond", "cycles", "zero return"),
        ("wrong-shunt", "shunt", "shunt reading"),
    ],
)
def test_what_is_wrong_with_a_shaft_is_found(tmp_path: Path, flaw: str, step: str, check: str) -> None:
    result = take(folder(tmp_path, SHAFT, SHAFT_PROCEDURE, SHAFT_TWIN), Trial((flaw,), 0))
    assert result.verdict == "reject"
    found = {(each.kind, each.name, each.subject) for each in result.caught if each.finding == "reject"}
    assert (step, check, "shaft") in found, found


def test_a_single_gauge_on_the_other_diagonal_of_a_hollow_shaft_is_accepted(tmp_path: Path) -> None:
    """It is compressed; a quarter bridge, and a bore."""
    rig = SHAFT.replace("at: +45°", "at: -45°").replace("diameter: 40 mm ± 0.05 mm,", "diameter: 40 mm, bore: 20 mm,")
    rig = rig.replace("model: full bridge, arrangement: torsion, wires: 6", "model: quarter bridge, wires: 3")
    result = take(folder(tmp_path, rig, SHAFT_PROCEDURE, SHAFT_TWIN), Trial((), 0))
    assert result.verdict == "accept", result.why


def test_a_full_bridge_of_bending_is_none_of_the_twins(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = folder(tmp_path, SHAFT.replace("arrangement: torsion", "arrangement: bending"), SHAFT_PROCEDURE, SHAFT_TWIN)
    assert run(["run", str(made), "--simulated", "--out", str(tmp_path / "out")]) == 4
    said = capsys.readouterr().err
    assert "channels.shaft.reduction.arrangement: the twin has no full bridge of bending on a shaft" in said


def test_settings_that_are_left_out_are_asked_for_where_they_belong(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = folder(tmp_path, SHAFT.replace("    settings: {excitation: 2.5 V}\n", ""), SHAFT_PROCEDURE)
    assert run(["check", str(made)]) == 4
    said = capsys.readouterr().err
    assert "instruments.bridge: the driver 'bridge amplifier' cannot do without settings" in said
    assert "write `settings: {excitation: …}` here" in said


def test_a_press_that_turns_the_cell_itself_needs_no_person(tmp_path: Path) -> None:
    """The bundled force cell without its turntable; an eccentric force is found, so that the cell was really turned."""
    rig = (ROOT / "rigs" / "forcecell" / "rig.yaml").read_text("utf-8")
    procedure = (ROOT / "rigs" / "forcecell" / "acceptance.yaml").read_text("utf-8")
    turns = '      rotate: {send: "TURN {value}", ask: "ANGLE", reply: "{value} DEG"}\n'
    by_hand = rig[rig.index("  turntable:") : rig.index("\nsources:")]
    made = folder(tmp_path, rig.replace(by_hand, turns), procedure.replace("      rotated by: turntable\n", ""))
    shutil.copy(ROOT / "rigs" / "forcecell" / "twin.yaml", made)
    sound, flawed = ["run", str(made), "--simulated", "--quiet", "--out"], ["--flaw", "eccentric-load"]
    assert run([*sound, str(tmp_path / "sound")]) == 0
    assert json.loads((tmp_path / "sound" / "verdict.json").read_text("utf-8"))["people"] == []
    assert run([*sound, str(tmp_path / "flawed"), *flawed]) == 1
