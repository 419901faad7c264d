"""The two drawings of a campaign: the detection matrix, and the operating characteristic."""

from __future__ import annotations

from .curve import MISSED, Curve, monotone
from .intervals import Share
from .matrix import Matrix, Row
from .picture import Picture
from .sizes import Axis

_CELL_W, _CELL_H, _NAMES, _HEAD = 52.0, 26.0, 260.0, 200.0
_LEFT, _TOP, _WIDE, _HIGH = 90.0, 50.0, 620.0, 360.0


def draw_matrix(matrix: Matrix) -> str:
    """A row for each flaw, a column for each check, in each cell the share in percent and a grey as dark as it is."""
    checks = matrix.checks
    width = _NAMES + _CELL_W * (1 + len(checks)) + 150
    height = _HEAD + _CELL_H * len(matrix.rows) + 40
    n = len(matrix.seeds)
    words = "; ".join(f"{row.name}: not accepted in {row.found.count} of {n}" for row in matrix.rows)
    picture = Picture(width, height, "Detection matrix", words)
    picture.text(10, 20, f"Not accepted, in % of {n} runs; all runs, and by check")
    for column, name in enumerate(("not accepted", *checks)):
        picture.text(_NAMES + _CELL_W * (column + 0.6), _HEAD - 8, name, turn=-50)
    for place, row in enumerate(matrix.rows):
        y = _HEAD + _CELL_H * place
        mark = "hole: " if row in matrix.holes else "no effect: " if row in matrix.idle else ""
        picture.text(_NAMES - 8, y + 18, f"{mark}{row.name}", anchor="end")
        for column, share in enumerate(_shares(row, checks)):
            _cell(picture, _NAMES + _CELL_W * column, y, share, framed=column > 0)
    picture.text(10, height - 12, "hole: found in less than 95 %; no effect: a flaw that changed no number here")
    return picture.svg()


def _shares(row: Row, checks: tuple[str, ...]) -> list[Share]:
    return [row.found, *(row.by(check) for check in checks)]


def _cell(picture: Picture, x: float, y: float, share: Share, framed: bool) -> None:
    grey = round(255 - 175 * share.value)
    left = x + (4 if framed else 0)  # a gap between the verdict's column and those of the checks
    picture.box(left, y, _CELL_W - 4, _CELL_H, f"rgb({grey},{grey},{grey})")
    ink = "white" if share.value > 0.6 else "black"
    shown = f"{100 * share.value:.0f}" if share.count else "·"
    picture.text(left + _CELL_W / 2 - 2, y + 18, shown, anchor="middle", fill=ink)


def draw_curve(curve: Curve) -> str:
    """Acceptance against size: the fit as a line, runs as dots, intervals as bars where they count."""
    axis = curve.axis
    caught = curve.caught()
    words = "; ".join(f"{axis.shown(p.size)}: accepted {p.accepted.count} of {p.accepted.of}" for p in curve.points)
    picture = Picture(_LEFT + _WIDE + 40, _TOP + _HIGH + 140, f"Operating characteristic of {axis.flaw}", words)
    picture.text(_LEFT, 24, f"{axis.flaw}: probability of acceptance against size")
    for percent in (0, 5, 20, 40, 60, 80, 95, 100):
        picture.line(_LEFT - 5, _y(percent / 100), _LEFT, _y(percent / 100))
        picture.text(_LEFT - 9, _y(percent / 100) + (0 if percent == 5 else 5), f"{percent} %", anchor="end")
    for step in range(5):
        x = _x(step / 4)
        picture.line(x, _y(0), x, _y(0) + 5)
        picture.text(x, _y(0) + 22, axis.shown(axis.size(step / 4)), anchor="middle")
    picture.text(_x(0.5), _y(0) + 46, _size_title(axis), anchor="middle")
    picture.text(_LEFT - 64, _y(0.5), "share of runs accepted, %", anchor="middle", turn=-90)
    picture.line(_LEFT, _y(0), _LEFT + _WIDE, _y(0))
    picture.line(_LEFT, _y(0), _LEFT, _y(1))
    picture.line(_LEFT, _y(MISSED), _LEFT + _WIDE, _y(MISSED), "2 4")
    picture.path((_x(place), _y(p)) for place, p in monotone([q for q in curve.points if 0 <= q.place <= 1]))
    for point in sorted(curve.points, key=lambda point: point.stage == "measured"):  # these on top
        _dot(picture, point.place, point.accepted, measured=point.stage == "measured")
    if caught is not None:
        picture.line(_x(axis.place(caught)), _y(0), _x(axis.place(caught)), _y(1), "6 4")
        picture.text(_x(axis.place(caught)) + 6, _y(1) + 4, f"caught in 95 %: {axis.shown(caught)}")
    picture.text(_LEFT, _y(0) + 82, "filled: measured, with 95 % interval; open: where the bend was looked for")
    picture.text(_LEFT, _y(0) + 102, f"sound rig: accepted in {curve.sound}")
    return picture.svg()


def _size_title(axis: Axis) -> str:
    """What is drawn to the right: `size of thin-wall, %`; the unit stands at each number where they have several."""
    units = {axis.shown(axis.size(step / 4)).partition(" ")[2] for step in range(5)}
    unit = units.pop() if len(units) == 1 else "unit at each number"
    spaced = " (equal steps are equal factors)" if axis.by_factors else ""
    return ", ".join(filter(None, (f"size of {axis.flaw}", unit))) + spaced


def _x(place: float) -> float:
    return _LEFT + _WIDE * place


def _y(probability: float) -> float:
    return _TOP + _HIGH * (1.0 - probability)


def _dot(picture: Picture, place: float, share: Share, measured: bool) -> None:
    if not 0 <= place <= 1:  # the size of the consumer's risk may lie outside the axis
        return
    if measured:
        lower, upper = share.interval()
        picture.line(_x(place), _y(lower), _x(place), _y(upper), width=1.5)
    picture.dot(_x(place), _y(share.value), measured)
