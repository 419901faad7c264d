"""Load, strain and temperature over time: of the whole run with its steps, and of every step that moved a load."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rigproof.documents import Rig
from rigproof.instruments import FloatArray
from rigproof.quantities import fitting, shown
from rigproof.verdict import words

from .drawing import (
    DASHES,
    DOTS,
    LETTER,
    WIDE,
    Drawing,
    Figure,
    Line,
    Marks,
    Note,
    Place,
    across,
    apart,
    dots,
    marked,
    notes,
    pieces,
    upward,
)
from .events import Span, StepPart, shut_in, stages, stands
from .readings import UNREAD_S, Series, as_quantity, thinned
from .rests import Folding, folding
from .scales import Scale, around

PER_S = 1 / 60  # the abscissa is in minutes
MOST_LINES = len(DASHES)
LEAST_SPAN = {  # of an ordinate, so that noise does not fill a drawing; K, 1, Pa
    "temperature": 1.0,
    "strain": 5e-6,
    "gauge pressure": 1e4,
}


@dataclass(frozen=True)
class _Marked:
    """What is marked in every drawing of a figure."""

    x: Scale
    named: Sequence[Span]
    notes: tuple[Note, ...]
    stands: tuple[Place, ...] = ()
    shut: tuple[Note, ...] = ()
    held: Sequence[Span] = ()
    x_marks: Marks = ()  # those of `x` where empty
    breaks: tuple[Note, ...] = ()


def run_figure(rig: Rig, found: Mapping[str, Series], parts: Sequence[StepPart]) -> Figure | None:
    """All of the run without its long rests: where each step began, and what the part did."""
    drawn = {n: one for n, one in found.items() if n in rig.channels and rig.channels[n].measures in _drawn(rig)}
    end_s = max((float(one.t_s[-1]) for one in drawn.values() if one.t_s.size), default=0.0)
    if not parts or end_s <= 0:
        return None
    fold = folding(drawn, end_s)
    x = across(0.0, float(fold.at(end_s)) * PER_S, WIDE)
    steps = [Span(part.start_s, part.end_s, f"{part.step} {part.kind}") for part in parts]
    rests = [Span(rest.start_s, rest.end_s, words.span(rest.end_s - rest.start_s)) for rest in fold.rests]
    marks = _Marked(
        x,
        steps,
        notes(_folded(fold, steps), x, PER_S),
        x_marks=fold.marks(x, PER_S),
        breaks=notes(_folded(fold, rests), x, PER_S),
    )
    folded = {name: fold.series(one) for name, one in drawn.items()}
    drawings = tuple(_drawings(rig, folded, marks, dict.fromkeys(drawn, 0.0)))
    return Figure("The whole run, with its steps", drawings) if drawings else None


def _drawn(rig: Rig) -> tuple[str, str, str]:
    """The kinds of quantity that are drawn over time, in order."""
    return rig.part.load, "strain", "temperature"


def _folded(fold: Folding, spans: Sequence[Span]) -> list[Span]:
    return [Span(float(fold.at(one.start_s)), float(fold.at(one.end_s)), one.text) for one in spans]


def step_figures(rig: Rig, found: Mapping[str, Series], parts: Sequence[StepPart]) -> Iterator[Figure]:
    """Each step that moved a load, with its stages, where the load stood, and where the part was shut in."""
    for part in parts:
        if not part.moves or part.end_s <= part.start_s:
            continue
        x = across(part.start_s * PER_S, part.end_s * PER_S, WIDE)
        named, held = stages(part), list(shut_in(part))
        marks = _Marked(x, named, notes(named, x, PER_S), _places(stands(part), x), notes(held, x, PER_S), held)
        inside = {name: _cut(one, part.start_s, part.end_s) for name, one in found.items()}
        drawings = tuple(_drawings(rig, inside, marks, _zeros(part)))
        if drawings:
            again = "" if part.counts else ", begun again later"
            yield Figure(f"Step {part.step} {part.kind}: load and answer over time{again}", drawings)


def _places(spans: Iterator[Span], x: Scale) -> tuple[Place, ...]:
    return tuple((x.inside(span.start_s * PER_S), x.inside(span.end_s * PER_S)) for span in spans)


def _cut(one: Series, start_s: float, end_s: float) -> Series:
    first, last = np.searchsorted(one.t_s, (start_s - 1e-6, end_s + 1e-6))
    return Series(one.channel, one.t_s[first:last], one.values[first:last])


def _zeros(part: StepPart) -> dict[str, float]:
    """The reading of each channel in the step's first zero, in its first block where none is called so."""
    blocks = [e for e in part.entries if e.kind == "samples"]
    named = [e for e in blocks if str(e.data.get("label", "")).startswith("zero")]
    found: dict[str, float] = {}
    for entry in (*named, *blocks):
        for name, column in entry.data["values"].items():
            numbers = [v for v in column if v is not None]
            if numbers and name not in found:
                found[name] = float(np.mean(numbers))
    return found


def _drawings(rig: Rig, found: Mapping[str, Series], marks: _Marked, zeros: Mapping[str, float]) -> Iterator[Drawing]:
    """Load first, then strain, then temperature, so many lines to a drawing as can be told apart."""
    for kind in _drawn(rig):
        names = [n for n in found if n in rig.channels and rig.channels[n].measures == kind]
        group = [found[name] for name in names if np.isfinite(found[name].values).any()]
        for n in range(0, len(group), MOST_LINES):
            yield _drawing(rig, kind, group[n : n + MOST_LINES], marks, zeros)


def _drawing(rig: Rig, kind: str, group: Sequence[Series], marks: _Marked, zeros: Mapping[str, float]) -> Drawing:
    kept = []
    for one in group:
        t, raw, breaks = thinned(one.t_s * PER_S, one.values, marks.x.low, marks.x.high, UNREAD_S * PER_S)
        kept.append((one.channel, t, as_quantity(rig, one.channel, raw, zeros.get(one.channel, 0.0)), breaks))
    unit = fitting(max(float(np.abs(values).max()) for _, _, values, _ in kept), kind)
    drawn = [(name, t, np.asarray(shown(values, kind, unit)), breaks) for name, t, values, breaks in kept]
    least = float(shown(LEAST_SPAN.get(kind, 0.0), kind, unit) - shown(0.0, kind, unit))
    y = upward(*_span([values for _, _, values, _ in drawn], least))
    labels = apart([_label(marks.x, y, name, t, values) for name, t, values, _ in drawn])
    lines = tuple(
        _line(marks.x, y, one, number, label if len(drawn) > 1 else None)
        for number, (one, label) in enumerate(zip(drawn, labels, strict=True))
    )
    names = ", ".join(name for name, _, _, _ in drawn)
    return Drawing(
        title=f"{names} in {unit} over time",
        about=_about(drawn, unit, marks),
        width=WIDE,
        x_name="min",
        y_name=f"{names if len(drawn) == 1 else kind}, {unit}",
        x_marks=marks.x_marks or marks.x.marks(8),
        y_marks=y.marks(4),
        lines=lines,
        notes=marks.notes,
        stands=marks.stands,
        shut=marks.shut,
        breaks=marks.breaks,
    )


def _span(values: Sequence[FloatArray], least: float) -> tuple[float, float]:
    """The ordinate that holds all values, no less than `least` from end to end."""
    low, high = min(float(v.min()) for v in values), max(float(v.max()) for v in values)
    lack = max(0.0, least - (high - low)) / 2
    return around(low - lack, high + lack)


def _line(
    x: Scale, y: Scale, one: tuple[str, FloatArray, FloatArray, FloatArray], number: int, label: Place | None
) -> Line:
    """A curve where readings follow each other, a dot where a few stand alone."""
    name, *read = one
    shape, fills = DOTS[number]
    path = marked(shape, dots(x, y, *read))
    ways = (path, "") if fills else ("", path)
    sample = marked(shape, [(18, 5)]) if path else ""
    return Line(name, DASHES[number], pieces(x, y, *read), *ways, label, (sample, fills))


def _label(x: Scale, y: Scale, name: str, t: FloatArray, values: FloatArray) -> Place:
    """Beside the largest value of a curve, inside the drawing."""
    most = int(np.abs(values).argmax())
    beside = min(x.at(float(t[most])) + 4, x.end - LETTER * len(name) - 2)
    return beside, min(y.at(float(values[most])) + 11, y.start - 4)


def _about(drawn: Sequence[tuple[str, FloatArray, FloatArray, FloatArray]], unit: str, marks: _Marked) -> str:
    said = [f"{name}: {float(v.min()):.4g} to {float(v.max()):.4g} {unit}" for name, _, v, _ in drawn]
    spans = [f"{span.text} from {span.start_s * PER_S:.1f} min" for span in marks.named if span.text]
    held = [f"{s.text} from {s.start_s * PER_S:.1f} to {s.end_s * PER_S:.1f} min" for s in marks.held]
    return "; ".join([*said, *spans, *held]) + "."
