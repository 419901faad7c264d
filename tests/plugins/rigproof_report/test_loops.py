"""Loops and residuals are those of the checks: the drawing and the finding never say two things."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rigproof.documents import Rig
from rigproof.journal import Entry
from rigproof.plugins import Registry
from rigproof.run.plan import Plan, make_plan
from rigproof.verdict.record import Verdict
from rigproof_report.events import StepPart, step_parts
from rigproof_report.loops import loop_figures, loop_points, residual
from rigproof_report.record import read_record

BEAM = Path(__file__).parents[3] / "rigs" / "beam"


@pytest.fixture(scope="module")
def beam(
    accept: Callable[..., Verdict], registry: Registry, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Verdict, Rig, list[StepPart]]:
    """Read by hand, without a temperature channel, so that the drawing takes out no less than the check."""
    folder = tmp_path_factory.mktemp("beam")
    verdict = accept(make_plan(BEAM, registry), folder, [], 2, rig_folder=BEAM)
    record = read_record(verdict, folder / "journal.jsonl")
    assert record.rig is not None
    return verdict, record.rig, step_parts(record.entries)


def test_what_is_left_of_the_line_is_the_linearity_of_the_check(beam: tuple[Verdict, Rig, list[StepPart]]) -> None:
    verdict, rig, parts = beam
    part = next(part for part in parts if part.moves)
    for name in ("top", "bottom"):
        check = next(c for c in verdict.checks if c.name == "linearity" and c.subject == name)
        left = residual(loop_points(rig, part, "load", name))
        assert left is not None
        assert len(left.mean_shares) == 3  # levels of the procedure
        assert check.measured is not None
        level = int(check.at.split()[1])  # "level 2 of 3"
        assert abs(check.measured) > 1e-4
        assert left.mean_shares[level - 1] == pytest.approx(check.measured, abs=2e-5)


def test_the_slope_is_that_of_a_cantilever(beam: tuple[Verdict, Rig, list[StepPart]]) -> None:
    """ε/F = 6 L / (E b h²), bending of a beam fixed at one end (textbook, from memory)."""
    _, rig, parts = beam
    points = loop_points(rig, next(part for part in parts if part.moves), "load", "bottom")
    left = residual(points)
    assert left is not None
    assert left.slope == pytest.approx(-6 * 0.340 / (206e9 * 0.030 * 0.006**2), rel=0.03)
    assert [p.rises for p in points].count(True) >= 6


def test_the_tolerance_of_linearity_is_the_band(beam: tuple[Verdict, Rig, list[StepPart]]) -> None:
    verdict, rig, parts = beam
    figures = list(loop_figures(rig, parts, verdict.checks))
    assert [figure.caption for figure in figures] == [
        f"Step 5 cycles, {n}: strain over load" for n in ("top", "bottom")
    ]
    _, rest = figures[0].drawings
    assert "tolerance of linearity -1 to 1 %" in rest.about
    assert rest.band is not None
    marks = {text: place for place, text in rest.y_marks}
    assert rest.band == (marks["1.0"], marks["-1.0"])
    (_, unlimited) = next(iter(loop_figures(rig, parts, ()))).drawings
    assert (unlimited.band, "no tolerance of linearity was set" in unlimited.about) == (None, True)


def step_of_blocks(*blocks: tuple[str, float, float]) -> StepPart:
    """A kind of step nobody knows, with blocks of (label, load in Pa, bridge output)."""
    made = [
        Entry(n, float(n), "samples", {"values": {"pressure": [p], "hoop": [v]}, "label": label, "tags": {}})
        for n, (label, p, v) in enumerate(blocks)
    ]
    return StepPart(1, "force series", tuple(made))


def test_a_step_of_an_unknown_kind_has_its_loop_too(spool: Plan) -> None:
    part = step_of_blocks(
        ("before", 0.0, 1e-6),
        ("watch", 9e5, 9.0),
        ("a", 5e5, 6e-6),
        ("a", 10e5, 11e-6),
        ("b", 5e5, 7e-6),
        ("c", 0, 1e-6),
    )
    points = loop_points(spool.rig, part, "pressure", "hoop")
    assert [(p.load, p.rises) for p in points] == [(0.0, True), (5e5, True), (10e5, True), (5e5, False), (0.0, False)]
    left = residual(points)
    assert left is not None
    assert left.shares == pytest.approx([0.0, 0.0, 0.0, 0.1, 0.0], abs=1e-4)
    assert left.mean_shares.size == 0
    assert len(list(loop_figures(spool.rig, [part], ()))) == 1


@pytest.mark.parametrize("missing", [None, []])
def test_a_block_without_numbers_is_left_out(spool: Plan, missing: object) -> None:
    part = step_of_blocks(("zero", 0.0, 0.0), ("level", 1e5, 1e-6), ("level", 2e5, 2e-6))
    part.entries[1].data["values"]["hoop"] = [missing] if missing is None else missing
    assert [p.load for p in loop_points(spool.rig, part, "pressure", "hoop")] == [0.0, 2e5]


def test_a_channel_that_does_not_answer_has_no_line(spool: Plan) -> None:
    part = step_of_blocks(("zero", 0.0, 1e-6), ("level", 1e5, 1e-6), ("level", 2e5, 1e-6))
    assert residual(loop_points(spool.rig, part, "pressure", "hoop")) is None
    (figure,) = loop_figures(spool.rig, [part], ())
    assert len(figure.drawings) == 1
    assert "nought" in figure.note
