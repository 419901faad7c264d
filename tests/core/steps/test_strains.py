"""Thermal output in the strain budgets: a drifting bay must not reject a sound gauge, nor hide what nobody knows."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest

from rigproof.errors import DocumentError, NumberError
from rigproof.instruments import FloatArray
from rigproof.journal import Entry
from rigproof.run.plan import Plan
from rigproof.steps.strains import strain_between
from rigproof.verdict.record import Check, Verdict

NO_STEP = "  - resistance: {}\n"
BESIDE = (
    "    temperature: wall temperature                    # read beside every strain: takes the thermal output out\n"
)
AT_20, PER_K = (
    107.794,
    0.3879,
)  # Pt100 at 20 °C, and from there to 30 °C, in Ω and Ω/K (IEC 60751, table 1, from memory)


def block(output: float, rise_k: float) -> dict[str, FloatArray]:
    return {"hoop": np.array([output, output + 1e-9]), "wall temperature": np.array([AT_20 + PER_K * rise_k])}


def test_what_the_mismatch_explains_is_taken_out(planned: Callable[..., Plan]) -> None:
    """11.7 ppm/K of part less 6.7 of the gauge: 10 K alone make 50 µε, and 0.6 % more by transverse sensitivity."""
    rig = planned(NO_STEP, ("11 ppm/K ± 0.5 ppm/K", "6.7 ppm/K ± 0.5 ppm/K")).rig
    cold, warm = strain_between(rig, "hoop", block(100e-6, 0.0), block(0.0, 0.0), "now").estimate(), 10.0
    same = strain_between(rig, "hoop", block(100e-6, warm), block(0.0, 0.0), "now").estimate()
    assert cold.value - same.value == pytest.approx(50e-6 * 1.004 / (1 - 0.285 * 0.004), rel=1e-3)


def test_what_is_not_known_of_it_stands_in_the_budget(planned: Callable[..., Plan]) -> None:
    """Limits of 0.5 and 0.3 ppm/K over 10 K, rectangular: 2.9 and 1.7 µε; the same 10 K through 0.1 K: nothing."""
    rig = planned(NO_STEP).rig
    lines = {line.input: line for line in strain_between(rig, "hoop", block(0, 10), block(0, 0), "x").estimate().lines}
    assert lines["hoop compensated for"].contribution == pytest.approx(5e-6 / np.sqrt(3), rel=0.01)
    assert lines["part expansion"].contribution == pytest.approx(3e-6 / np.sqrt(3), rel=0.01)
    still = strain_between(rig, "hoop", block(0.0, 0.0), block(0.0, 0.0), "x").estimate()
    assert all(line.contribution < 1e-8 for line in still.lines if line.input in ("part expansion",))


def test_the_temperatures_of_several_blocks_count_by_their_mean(planned: Callable[..., Plan]) -> None:
    """The bay moved between the blocks, and the strain with it: that is no scatter of the reading."""
    now = {**block(0.0, 10.0), "wall temperature": AT_20 + PER_K * np.array([9.0, 10.0, 11.0])}
    rig = planned(NO_STEP).rig
    several = strain_between(rig, "hoop", now, block(0.0, 0.0), "x").estimate()
    one = strain_between(rig, "hoop", block(0.0, 10.0), block(0.0, 0.0), "x").estimate()
    assert (several.value, several.u, several.dof) == pytest.approx((one.value, one.u, one.dof), rel=1e-6)


def test_a_gauge_without_a_temperature_channel_is_read_as_it_is(planned: Callable[..., Plan]) -> None:
    rig = planned(NO_STEP, (BESIDE, "")).rig
    lines = strain_between(rig, "hoop", block(100e-6, 10), block(0, 0), "now").estimate().lines
    assert not any("wall temperature" in line.input or "compensated" in line.input for line in lines)


def test_a_missing_temperature_costs_the_strain_and_says_so(planned: Callable[..., Plan]) -> None:
    lost = {**block(0.0, 0.0), "wall temperature": np.array([np.nan])}
    with pytest.raises(NumberError, match=r"wall temperature: no temperature at now: .* look at the sensor's wires"):
        strain_between(planned(NO_STEP).rig, "hoop", lost, block(0.0, 0.0), "now")


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (("temperature: wall temperature ", "temperature: pressure "), "'pressure' measures gauge pressure"),
        (("temperature: wall temperature ", "temperature: wal temperature "), "'wal temperature' is no channel"),
        (("compensated for: 11 ppm/K ± 0.5 ppm/K", "grid area: 18 mm²"), "what the gauge is compensated for"),
    ],
)
def test_a_temperature_that_is_of_no_use_is_refused(
    planned: Callable[..., Plan], change: tuple[str, str], message: str
) -> None:
    with pytest.raises(DocumentError, match=message):
        planned(NO_STEP, change)


# -- a bay that warms by 3 K/h, gauges meant for a material of 16 ppm/K -------------------------------------------

STEPS = """\
  - resistance: {}
  - insulation: {}
  - balance: {settle: 5 s}
  - shunt: {resistor: 174.8 kΩ ± 0.1 %}
  - cycles: {source: pump, to: 25 bar, times: 3, levels: 3, exercise: 0}
"""
MISFIT = ("11 ppm/K ± 0.5 ppm/K", "16 ppm/K ± 0.1 ppm/K")


@pytest.fixture
def warming(spool_folder: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "warming"
    shutil.copytree(spool_folder, folder)
    twin = folder / "twin.yaml"
    written = twin.read_text("utf-8")
    assert "drift: 0.05 K/h" in written
    twin.write_text(written.replace("drift: 0.05 K/h", "drift: 3 K/h"), "utf-8")
    return folder


def zero_returns(verdict: Verdict) -> list[Check]:
    return [check for check in verdict.checks if check.name == "zero return"]


@pytest.mark.parametrize("seed", [1, 2])
def test_a_drifting_bay_rejects_a_sound_gauge_only_where_nobody_reads_its_temperature(
    accept: Callable[..., Verdict], planned: Callable[..., Plan], warming: Path, tmp_path: Path, seed: int
) -> None:
    for name in ("told", "blind"):
        (tmp_path / name).mkdir()
    told = accept(planned(STEPS, MISFIT), tmp_path / "told", seed=seed, rig_folder=warming)
    blind = accept(planned(STEPS, MISFIT, (BESIDE, "")), tmp_path / "blind", seed=seed, rig_folder=warming)
    assert {check.finding for check in told.checks} == {"accept"}
    assert "reject" in {check.finding for check in zero_returns(blind)}


def test_a_temperature_is_read_once_beside_every_block_of_strain(sound: Sequence[Entry]) -> None:
    blocks = [e.data["values"] for e in sound if e.kind == "samples" and e.data["label"] not in {"hold", "watch"}]
    strained = [values for values in blocks if "hoop" in values or "axial" in values]
    assert len(strained) > 10
    assert all(len(values["wall temperature"]) == 1 for values in strained)
