"""The two drawings of a campaign: the detection matrix, and the operating characteristic."""

from __future__ import annotations

from .curve import MISSED, Curve, monotone
from .intervals import Share
from .matrix import Matrix, Row
from .picture import Picture
from .sizes import Axis
from .verdicts import Verdicts

_CELL_W, _CELL_H, _NAMES, _HEAD = 52.0, 26.0, 260.0, 200.0
_ENDS = ("reject", "undecided")  # of a run that is not accepted; void runs have a column of their own
_LEFT, _TOP, _WIDE, _HIGH = 90.0, 50.0, 620.0, 360.0


def draw_matrix(matrix: Matrix) -> str:
    """A row for each flaw, a column for each check, in each cell the share in percent and a grey as dark as it is."""
    heads = ("not accepted", *_ENDS, *matrix.checks)
    width = _NAMES + _CELL_W * len(heads) + 150
    height = _HEAD + _CELL_H * len(matrix.rows) + 60
    n = len(matrix.seeds)
    words = "; ".join(f"{row.name}: {_in_words(row, n)}" for row in matrix.rows)
    picture = Picture(width, height, "Detection matrix", words)
    picture.text(10, 20, f"Not accepted, in % of {n} run{'s' * (n > 1)}; all runs, and by check")
    for column, name in enumerate(heads):
        picture.text(_NAMES + _CELL_W * (column + 0.6), _HEAD - 8, name, turn=-50)
    for place, row in enumerate(matrix.rows):
        y = _HEAD + _CELL_H * place
        mark = "hole: " if row in matrix.holes else "no effect: " if row in matrix.idle else ""
        picture.text(_NAMES - 8, y + 18, f"{mark}{row.name}", anchor="end")
        for column, (share, shown) in enumerate(_cells(row, matrix.checks)):
            gap = 4 if column > len(_ENDS) else 0  # between the columns of the verdict and those of the checks
            _cell(picture, _NAMES + _CELL_W * column + gap, y, share, shown)
    picture.text(10, height - 32, "by check, 50+25?: reject in 50 %, undecided in 25 %; 25?: undecided in 25 %")
    picture.text(10, height - 12, "hole: found in less than 95 %; no effect: a flaw that changed no number here")
    return picture.svg()


def _in_words(row: Row, n: int) -> str:
    ends = f" ({row.verdicts.against})" if row.verdicts.against else ""
    return f"not accepted in {row.found.count} of {n}{ends}"


def _cells(row: Row, checks: tuple[str, ...]) -> list[tuple[Share, str]]:
    """Share and text of each: all that were not accepted, by verdict, by check."""
    counts = row.verdicts.counts
    of_verdict = [row.found, *(Share(counts[verdict], row.found.of) for verdict in _ENDS)]
    by_check = [(row.by(check), _caught(row, check)) for check in checks]
    return [*((share, _percent(share.count, share.of)) for share in of_verdict), *by_check]


def _caught(row: Row, check: str) -> str:
    """In what share the check caught: `75` rejected, `25?` undecided, `50+25?` both."""
    of, found = row.found.of, row.by_finding(check)
    sure = found["reject"] + found["void"]
    doubtful = f"{_percent(found['undecided'], of)}?" if found["undecided"] else ""
    return "+".join(filter(None, (_percent(sure, of) if sure or not doubtful else "", doubtful)))


def _percent(count: int, of: int) -> str:
    return f"{100 * count / of:.0f}" if count else "·"


def _cell(picture: Picture, x: float, y: float, share: Share, shown: str) -> None:
    grey = round(255 - 175 * share.value)
    picture.box(x, y, _CELL_W - 4, _CELL_H, f"rgb({grey},{grey},{grey})")
    ink = "white" if share.value > 0.6 else "black"
    picture.text(x + _CELL_W / 2 - 2, y + 18, shown, anchor="middle", fill=ink)


def draw_curve(curve: Curve) -> str:
    """Acceptance against size: the fit as a line, runs as dots, intervals as bars where they count."""
    axis = curve.axis
    caught = curve.caught()
    words = "; ".join(f"{axis.shown(p.size)}: {_counted(p.verdicts)}" for p in curve.points)
    picture = Picture(_LEFT + _WIDE + 40, _TOP + _HIGH + 150, f"Operating characteristic of {axis.flaw}", words)
    picture.text(_LEFT, 24, f"{axis.flaw}: probability of acceptance against size")
    for percent in (0, 5, 20, 40, 60, 80, 95, 100):
        picture.line(_LEFT - 5, _y(percent / 100), _LEFT, _y(percent / 100))
        picture.text(_LEFT - 9, _y(percent / 100) + (0 if percent == 5 else 5), f"{percent} %", anchor="end")
    for step in range(5):
        x = _x(step / 4)
        picture.line(x, _y(0), x, _y(0) + 5)
        picture.text(x, _y(0) + 22, axis.shown(axis.size(step / 4)), anchor="middle")
    picture.text(_x(0.5), _y(0) + 46, _size_title(axis), anchor="middle")
    picture.text(_LEFT - 64, _y(0.5), "share of runs accepted (×: rejected), %", anchor="middle", turn=-90)
    picture.line(_LEFT, _y(0), _LEFT + _WIDE, _y(0))
    picture.line(_LEFT, _y(0), _LEFT, _y(1))
    picture.line(_LEFT, _y(MISSED), _LEFT + _WIDE, _y(MISSED), "2 4")
    picture.path((_x(place), _y(p)) for place, p in monotone([q for q in curve.points if 0 <= q.place <= 1]))
    for point in sorted(curve.points, key=lambda point: point.counts):  # these on top
        _dot(picture, point.place, point.accepted, measured=point.counts)
        if point.counts and 0 <= point.place <= 1:
            picture.cross(_x(point.place), _y(point.verdicts.reject / point.verdicts.runs))
    if caught is not None:
        x = _x(axis.place(caught))
        picture.line(x, _y(0), x, _y(1), "6 4")
        anchor = "middle" if 0.2 < axis.place(caught) < 0.8 else "start" if axis.place(caught) < 0.5 else "end"
        picture.text(x, _y(1) - 10, f"caught in 95 %: {axis.shown(caught)}", anchor=anchor)
    picture.text(_LEFT, _y(0) + 82, "filled: measured, with 95 % interval; open: where the bend was looked for")
    picture.text(_LEFT, _y(0) + 102, "×: rejected, where measured; what is left to 100 % is undecided or void")
    picture.text(_LEFT, _y(0) + 122, f"sound rig{_where(curve)}: accepted in {_sound(curve.sound)}")
    return picture.svg()


def _counted(verdicts: Verdicts) -> str:
    ends = f", {verdicts.against}" if verdicts.against else ""
    return f"accepted {verdicts.accept} of {verdicts.runs}{ends}"


def _where(curve: Curve) -> str:
    return f" (the point {curve.axis.shown(0.0)})" if curve.sound_is_zero else " (no point of the curve)"


def _sound(verdicts: Verdicts) -> str:
    return ", ".join(filter(None, (str(verdicts.accepted), verdicts.against)))


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
