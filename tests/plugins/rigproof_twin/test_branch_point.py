"""The twin's own branch: its truth lies within what is stated; its physics against Hooke's law and the plain pipe."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from rigproof.documents import load_rig
from rigproof.documents.rig import Rig
from rigproof_twin.as_built import BranchedPipe
from rigproof_twin.document import read_twin
from rigproof_twin.draw import Streams
from rigproof_twin.physics.branch_point import BranchPoint
from rigproof_twin.physics.cylinder import TANGENT_RATIO, Cylinder, Response
from rigproof_twin.survey import survey

BRANCH = Path(__file__).parents[3] / "rigs" / "branch"
PIPE = Cylinder(53.55e-3, 57.15e-3, 206e9, 0.29, 11.7e-6, 235e6, "closed")


def seen(response: Response) -> tuple[float, ...]:
    return tuple(vars(response).values())


@pytest.mark.parametrize(("place", "direction"), [("hoop", "normal"), ("45°", "45°"), ("axial", "tangential")])
def test_factors_of_one_and_a_half_are_the_plain_wall(place: str, direction: str) -> None:
    """Outside a closed pipe the axial stress is half the hoop stress."""
    point = BranchPoint(PIPE, PIPE.outer_m, 1.0, 0.5).response(direction)
    plain = PIPE.response(place, PIPE.outer_m)
    for name in ("along_per_load", "across_per_load", "shear_per_load"):
        assert getattr(point, name) == pytest.approx(getattr(plain, name), rel=1e-9, abs=1e-24)


def test_strains_are_those_of_plane_stress() -> None:
    """Hooke, as in every text: e1 = (s1 - nu s2)/E; hoop stress outside 2 p a²/(b² - a²) (Lame; from memory)."""
    hoop = 2 * 53.55**2 / (57.15**2 - 53.55**2)
    first, second = (1.9 - 0.29 * 2.5) * hoop / 206e9, (2.5 - 0.29 * 1.9) * hoop / 206e9
    point = BranchPoint(PIPE, PIPE.outer_m, 1.9, 2.5)
    assert seen(point.response("normal"))[:2] == pytest.approx((first, second), rel=1e-9)
    assert seen(point.response("tangential"))[:2] == pytest.approx((second, first), rel=1e-9)
    between = point.response("45°")
    assert (between.along_per_load, between.across_per_load) == pytest.approx([(first + second) / 2] * 2, rel=1e-9)
    assert abs(between.shear_per_load) == pytest.approx((second - first) / 2, rel=1e-9)


def test_inside_the_water_bears_on_the_wall() -> None:
    """Hooke in three dimensions; hoop stress of the bore p (b² + a²)/(b² - a²) (Lame; from memory)."""
    hoop = (57.15**2 + 53.55**2) / (57.15**2 - 53.55**2)
    point = BranchPoint(PIPE, PIPE.inner_m, 2.8, -0.2)
    expected = (2.8 * hoop - 0.29 * (-0.2 * hoop - 1)) / 206e9
    assert point.response("normal").along_per_load == pytest.approx(expected, rel=1e-9)


def test_a_point_yields_before_the_shell() -> None:
    """In plane stress the equivalent one is sqrt(s1² - s1 s2 + s2²) (von Mises, any text)."""
    point = BranchPoint(PIPE, PIPE.outer_m, 1.9, 2.5)
    hoop = 2 * 53.55**2 / (57.15**2 - 53.55**2)
    yields = 235e6 / (hoop * np.sqrt(1.9**2 - 1.9 * 2.5 + 2.5**2))
    left = point.plastic_strain(np.array([0.999 * yields, 1.5 * yields]))
    assert left == pytest.approx([0.0, 0.5 * 235e6 / 206e9 * (1 / TANGENT_RATIO - 1)], rel=1e-9)
    assert PIPE.plastic_strain(np.array([1.5 * yields])) == pytest.approx([0.0], abs=0.0)
    flow = point.response("normal")
    third = -(flow.plastic_along + flow.plastic_across)  # plastic flow keeps the volume
    strains = np.array([flow.plastic_along, flow.plastic_across, third])
    assert np.sqrt(2 / 3 * strains @ strains) == pytest.approx(1.0, rel=1e-9)  # equivalent strain of 1


@pytest.fixture(scope="module", name="rig")
def _rig() -> Rig:
    return load_rig(BRANCH / "rig.yaml")


def built(rig: Rig, seed: int) -> BranchedPipe:
    part = survey(rig, read_twin(BRANCH / "twin.yaml", rig), Streams(seed)).part
    assert isinstance(part, BranchedPipe)
    return part


def test_the_truth_is_drawn_within_the_limits_and_by_the_seed(rig: Rig) -> None:
    drawn = np.array([built(rig, seed).factors["flank"] for seed in range(200)])
    assert np.all(np.abs(drawn / [1.9, 2.5] - 1) <= 0.08 + 1e-12)
    assert np.all(np.ptp(drawn / [1.9, 2.5], axis=0) > 0.14)  # of 0.16 that the limits leave
    assert abs(np.corrcoef(drawn.T)[0, 1]) < 0.3  # each by itself
    assert built(rig, 3).factors == built(rig, 3).factors


def test_a_thinner_wall_strains_the_branch_more(rig: Rig) -> None:
    part = built(rig, 1)
    before = [part.response(place).along_per_load for place in ("hoop", "flank normal", "flank tangential")]
    part.wall_m *= 0.9
    after = [part.response(place).along_per_load for place in ("hoop", "flank normal", "flank tangential")]
    assert np.array(after) / before == pytest.approx([after[0] / before[0]] * 3, rel=1e-9)
    assert after[0] / before[0] > 1.1


def test_a_run_tells_true_factors_apart(rig: Rig) -> None:
    truth = survey(rig, read_twin(BRANCH / "twin.yaml", rig), Streams(5)).values()
    assert truth["part flank normal"] != truth["part flank tangential"]
    assert truth["part corner tangential"] == built(rig, 5).factors["corner"][1]
