"""What a drawing is made of: places on paper, worked out beforehand, so that the templates only write them down."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from rigproof.instruments import FloatArray

from .events import Span
from .scales import Scale

LEFT, RIGHT, TOP, BOTTOM = 58.0, 10.0, 24.0, 20.0
WIDE, HALF, HEIGHT = 720.0, 356.0, 176.0
DASHES = ("", "7 3", "2 2", "9 3 2 3")  # told apart without colour
LETTER = 5.4  # width of one in a note
UP, DOWN, MEAN = "m-3.2 2.6 3.2-5.6 3.2 5.6z", "m-3.2-2.6 3.2 5.6 3.2-5.6z", "m-4 0 4-4 4 4-4 4z"
ROUND, SQUARE = "m-2.2 0a2.2 2.2 0 1 0 4.4 0a2.2 2.2 0 1 0-4.4 0z", "m-2-2h4v4h-4z"
DOTS = ((ROUND, True), (ROUND, False), (SQUARE, True), (SQUARE, False))  # of each line: its shape, and whether filled
NARROW = 2.0  # a piece of a curve that is no wider than this is a dot

Place = tuple[float, float]
Marks = tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class Line:
    """One curve as points of SVG polylines, broken where readings are missing, and its marks as paths."""

    name: str
    dash: str
    pieces: tuple[str, ...]
    filled: str = ""
    hollow: str = ""
    label: Place | None = None  # where its name stands beside it
    sample: tuple[str, bool] = ("", True)  # its mark as it stands in the key, and whether it is filled


@dataclass(frozen=True)
class Note:
    """A stretch of the abscissa with as much of its name as there is room for."""

    place: Place
    text: str


@dataclass(frozen=True)
class Drawing:
    """Curves on one pair of axes."""

    title: str
    about: str  # the same for who does not see it
    width: float
    x_name: str
    y_name: str
    x_marks: Marks
    y_marks: Marks
    lines: tuple[Line, ...]
    notes: tuple[Note, ...] = ()
    stands: tuple[Place, ...] = ()
    shut: tuple[Note, ...] = ()
    breaks: tuple[Note, ...] = ()  # rests that the abscissa leaves out
    band: Place | None = None  # upper and lower edge of a tolerance
    height: float = HEIGHT


@dataclass(frozen=True)
class Figure:
    """Drawings that are looked at together."""

    caption: str
    drawings: tuple[Drawing, ...]
    note: str = ""


def across(low: float, high: float, width: float) -> Scale:
    """The abscissa."""
    return Scale(low, high, LEFT, width - RIGHT)


def upward(low: float, high: float) -> Scale:
    """The ordinate."""
    return Scale(low, high, HEIGHT - BOTTOM, TOP)


def points(x: Scale, y: Scale, xs: FloatArray, ys: FloatArray) -> str:
    """The points of a polyline."""
    return " ".join(f"{x.at(a):g},{y.at(b):g}" for a, b in zip(xs.tolist(), ys.tolist(), strict=True))


def pieces(x: Scale, y: Scale, xs: FloatArray, ys: FloatArray, breaks: FloatArray) -> tuple[str, ...]:
    """The same, broken wherever the count of `breaks` grows; a point between two of them is twice there."""
    found = [points(x, y, xs[a:b], ys[a:b]) for a, b in _cuts(breaks)]
    return tuple(piece if " " in piece else f"{piece} {piece}" for piece in found)


def dots(x: Scale, y: Scale, xs: FloatArray, ys: FloatArray, breaks: FloatArray) -> list[Place]:
    """The middle of every piece that is too narrow to be seen as a line."""
    return [
        (x.at(float(xs[a:b].mean())), y.at(float(ys[a:b].mean())))
        for a, b in _cuts(breaks)
        if x.at(float(xs[b - 1])) - x.at(float(xs[a])) <= NARROW
    ]


def _cuts(breaks: FloatArray) -> Iterable[tuple[int, int]]:
    return pairwise([0, *(np.flatnonzero(np.diff(breaks)) + 1).tolist(), len(breaks)])


def marked(shape: str, places: Iterable[Place]) -> str:
    """One path with the shape at every place."""
    return "".join(f"M{px:g} {py:g}{shape}" for px, py in places)


def notes(spans: Sequence[Span], x: Scale, per_s: float) -> tuple[Note, ...]:
    """Each stretch with the longest form of its name that fits into it."""
    found = []
    for span in spans:
        place = x.inside(span.start_s * per_s), x.inside(span.end_s * per_s)
        found.append(Note(place, fitted(span.text, place[1] - place[0] - 4)))
    return tuple(found)


def apart(places: Sequence[Place]) -> list[Place]:
    """Places for names, moved down until none covers one above it."""
    order = sorted(range(len(places)), key=lambda i: places[i][1])
    moved = list(places)
    for above, here in pairwise(order):
        moved[here] = moved[here][0], max(moved[here][1], moved[above][1] + 11.0)
    return moved


def fitted(text: str, room: float) -> str:
    """`stage 2 of 4`, else `stage 2`, else `2`, else nothing; of `test of a limit` it is the limit that tells."""
    head, _, tail = text.partition(" of ")
    short = (head if tail[:1].isdigit() or not tail else tail).partition(",")[0]
    number = next((word for word in short.split() if word.isdigit()), "")
    return next((form for form in (text, short, number) if form and len(form) * LETTER <= room), "")
