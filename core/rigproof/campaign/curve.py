"""The operating characteristic: probability of acceptance against the size of a flaw, and the size that is caught.

One assumption: a flaw nearer the severe end is not accepted more often. Where the runs speak against it, that is told,
and no size is said to be caught: mostly the ends are the wrong way round, which the first runs at both show.

The estimate is the monotone (isotonic) fit that this allows, by pooling adjacent violators (M. Ayer and others, Annals
of Mathematical Statistics 26, 1955, 641-647; from memory), straight between sizes. No shape is assumed: a sound rig may
be accepted less than always, and several checks may have a say.

Runs go where the curve bends: a coarse grid, twice more sizes inside the bend, then a few sizes there with so many runs
that a probability of 5 % can be told. Intervals rest on these last alone. Their sizes were chosen before any of their
runs, and every run has a seed of its own, so that their Clopper-Pearson intervals are exact.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Literal

from rigproof.errors import UsageError

from .intervals import CONFIDENCE, Share
from .sizes import Axis
from .verdicts import Verdicts

GRID = 9
SCOUTS = 8  # runs at a size while the bend is looked for
ROUNDS = 2
MORE = 4  # sizes added inside the bend in each round
BLOCK = 75  # runs at a size that is measured: none of 72 accepted shows less than 5 % at 95 % confidence
MISSED = 0.05  # probability of acceptance of a flaw that counts as caught
SEARCH = SCOUTS * (GRID + ROUNDS * MORE)
LEAST_RUNS = SEARCH + 4 * BLOCK  # the sound rig, the size of the consumer's risk, and two sizes in the bend

Stage = Literal["search", "measured", "sound"]


@dataclass(frozen=True)
class Point:
    """Runs at one size; stage `sound`: without the flaw, where that is the same as size 0."""

    place: float
    size: float
    verdicts: Verdicts
    stage: Stage

    @property
    def accepted(self) -> Share:
        """How many were accepted."""
        return self.verdicts.accepted

    @property
    def counts(self) -> bool:
        """Whether an interval may rest on it: its size was chosen before its runs, and it has many."""
        return self.stage != "search"


@dataclass(frozen=True)
class Curve:
    """`points` by place; `sound`: runs without a flaw; `limit`: the size whose acceptance is the consumer's risk.

    The sound runs are among the points, too, where they are those of size 0.
    """

    axis: Axis
    sound: Verdicts
    limit: float
    points: tuple[Point, ...]

    @property
    def measured(self) -> tuple[Point, ...]:
        """The points that intervals rest on."""
        return tuple(point for point in self.points if point.counts)

    @property
    def sound_is_zero(self) -> bool:
        """Whether the sound rig is a point of the curve."""
        return any(point.stage == "sound" for point in self.points)

    @property
    def ends(self) -> tuple[float, float]:
        """The mildest and the severest size that was run: those of the axis, or the limit beyond them."""
        return self.points[0].size, self.points[-1].size

    @property
    def sound_is_refused(self) -> bool:
        """Sound rigs are accepted as seldom as a caught flaw: a refusal tells nothing of the flaw."""
        return self.sound.accepted.value <= MISSED

    @property
    def rise(self) -> tuple[Point, Point] | None:
        """Two points, milder and severer, where the severer is accepted more often beyond chance; None where none is.

        All intervals hold together with 95 % (Bonferroni), so that two which do not meet deny the assumption.
        """
        together = 1.0 - (1.0 - CONFIDENCE) / len(self.points)
        found = [(point, *point.accepted.interval(together)) for point in self.points]
        pairs = [
            (lower - upper, mild, severe)
            for place, (mild, _, upper) in enumerate(found)
            for severe, lower, _ in found[place + 1 :]
            if lower > upper and severe.place > mild.place
        ]
        return max(pairs, key=lambda pair: pair[0])[1:] if pairs else None

    @property
    def producer(self) -> Share:
        """Producer's risk: sound rigs that are not accepted."""
        return self.sound.accepted.rest

    @property
    def consumer(self) -> Share:
        """Consumer's risk: rigs with the flaw at `limit` that are accepted."""
        measured = (point for point in self.points if point.stage == "measured")
        return next(point.accepted for point in measured if point.size == self.limit)

    def at(self, place: float) -> float:
        """Estimated probability of acceptance; beyond the ends that of the ends."""
        fit = monotone(self.points)
        if place <= fit[0][0]:
            return fit[0][1]
        for (left, before), (right, after) in pairwise(fit):
            if place <= right:
                return before + (after - before) * (place - left) / (right - left)
        return fit[-1][1]

    def caught(self) -> float | None:
        """Size that is caught in 95 %: where the fit first falls to 5 %; None where none is, or nobody can say."""
        if self.sound_is_refused or self.rise:
            return None
        fit = monotone(self.points)
        if fit[0][1] <= MISSED:
            return self.axis.size(fit[0][0])
        for (left, before), (right, after) in pairwise(fit):
            if after <= MISSED:
                return self.axis.size(left + (right - left) * (before - MISSED) / (before - after))
        return None

    def caught_between(self) -> tuple[float | None, float | None]:
        """Its 95 % interval, sizes (mild, severe) among those measured; None: beyond the sizes that were measured.

        Sizes are tested in their order, from either end inwards, up to the first that is not sure: so no allowance for
        their number is needed (tests of ordered hypotheses in a fixed sequence).
        """
        mild = severe = None
        if self.sound_is_refused or self.rise:
            return mild, severe
        for point in self.measured:
            if point.accepted.interval()[0] <= MISSED:
                break
            mild = point.size
        for point in reversed(self.measured):
            if point.accepted.interval()[1] >= MISSED:
                break
            severe = point.size
        return mild, severe

    def bounds(self) -> list[tuple[float, float, float]]:
        """(place, lower, upper) at each measured size, that hold together with 95 % (Bonferroni)."""
        together = 1.0 - (1.0 - CONFIDENCE) / len(self.measured)
        return [(point.place, *point.accepted.interval(together)) for point in self.measured]


def monotone(points: Sequence[Point]) -> list[tuple[float, float]]:
    """(place, probability) that never rise, of largest likelihood, for each point. `points` ascend in place.

    Runs of one size are one sample, whatever they were taken for.
    """
    pools: list[tuple[int, int, list[float]]] = []
    for place, group in groupby(points, key=lambda point: point.place):
        alike = list(group)
        count, of = (sum(getattr(point.accepted, name) for point in alike) for name in ("count", "of"))
        places = [place] * len(alike)
        while pools and pools[-1][0] * of <= count * pools[-1][1]:
            before = pools.pop()
            count, of, places = count + before[0], of + before[1], before[2] + places
        pools.append((count, of, places))
    return [(place, count / of) for count, of, places in pools for place in places]


Measure = Callable[[float | None, int], Verdicts]  # size (None: sound rig), runs -> how they ended


def sample(
    axis: Axis, limit: float, runs: int, measure: Measure, zero_is_sound: Callable[[], bool] = lambda: False
) -> Curve:
    """Spend `runs`, `LEAST_RUNS` at least, where the curve bends.

    `zero_is_sound` is asked, after the first runs, where the mild end is 0: whether a flaw of size 0 is none.

    Raises `UsageError` after the first runs where these show that the ends are the wrong way round.
    """
    points: list[Point] = []

    def add(places: Sequence[float], count: int, stage: Stage) -> None:
        sizes = {axis.size(place): place for place in places}
        points.extend(Point(axis.place(size), size, measure(size, count), stage) for size in sizes)
        points.sort(key=lambda point: (point.place, point.stage))

    add([0.0, 1.0], SCOUTS, "search")
    _expect_a_fall(axis, *points)
    sound = measure(None, BLOCK)
    if axis.mild == 0.0 and zero_is_sound():
        points.append(Point(0.0, 0.0, sound, "sound"))
    add([step / (GRID - 1) for step in range(1, GRID - 1)], SCOUTS, "search")
    for _ in range(ROUNDS):
        left, right = bend(points)
        add([left + (right - left) * step / (MORE + 1) for step in range(1, MORE + 1)], SCOUTS, "search")
    left, right = bend(points)
    many = (runs - SEARCH - 2 * BLOCK) // BLOCK
    # From about half way down to well beyond the bend, where the rarest acceptances must be seen to be rare.
    chosen = [min(1.0, left + (right - left) * (0.4 + 1.5 * step / (many - 1))) for step in range(many)]
    add([place for place in chosen if axis.size(place) != limit], BLOCK, "measured")
    points.append(Point(axis.place(limit), limit, measure(limit, BLOCK), "measured"))
    points.sort(key=lambda point: (point.place, point.stage))
    return Curve(axis, sound, limit, tuple(points))


def _expect_a_fall(axis: Axis, mild: Point, severe: Point) -> None:
    """Where the ends are exchanged, a handful of runs tells, and all others would be spent for nothing."""
    if mild.accepted.interval()[1] < severe.accepted.interval()[0]:
        raise UsageError(
            f"--from {axis.shown(mild.size)} --to {axis.shown(severe.size)}: {axis.flaw} is accepted in "
            f"{mild.accepted.count} of {mild.accepted.of} runs at --from and in {severe.accepted.count} of "
            f"{severe.accepted.of} at --to, so --from is the severe end; swap --from and --to"
        )


def bend(points: Sequence[Point]) -> tuple[float, float]:
    """Places between which the fit falls: the last with 80 % of its height at least, and the first with 5 % at most."""
    fit = monotone(points)
    high = [place for place, probability in fit if probability >= 0.8 * fit[0][1]]
    low = [place for place, probability in fit if probability <= MISSED]
    left = high[-1] if fit[0][1] > MISSED else fit[0][0]
    right = next((place for place in low if place > left), fit[-1][0])
    return (left, right) if left < right else (fit[-2][0], fit[-1][0])
