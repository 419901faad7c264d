"""The course of the load as a procedure orders it: every move with its rate, and how long the load then stands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rigproof.documents import Procedure
from rigproof.documents.rig import Rig

from .paper import PaperRig
from .walk import walk


@dataclass(frozen=True)
class Move:
    """One order to a source, base units; on paper, where instruments answer at once and sources keep their rate."""

    step: int  # index in the procedure
    source: str
    start: float
    target: float
    rate_per_s: float
    lasts_s: float  # until the next order

    @property
    def takes_s(self) -> float:
        """How long the load moves."""
        return min(abs(self.target - self.start) / self.rate_per_s, self.lasts_s)

    def rate_over(self, seconds: float) -> float:
        """Fastest change per second, taken over a time; falling below 0."""
        way = self.target - self.start
        rate = min(self.rate_per_s, abs(way) / seconds)
        return rate if way > 0 else -rate

    def seconds_above(self, load: float) -> float:
        """How long the load is above one, on its way and at its target."""
        high, low = max(self.start, self.target), min(self.start, self.target)
        share = 1.0 if low > load else 0.0 if high <= load else (high - load) / (high - low)
        return share * self.takes_s + (self.lasts_s - self.takes_s) * (self.target > load)


def course_of(rig: Rig, procedure: Procedure) -> tuple[Move, ...]:
    """Every move of every step on paper; of a step that cannot be taken those before it fails (`check` tells why)."""
    found: list[Move] = []
    standing = dict.fromkeys(rig.sources, 0.0)
    for walked in walk(PaperRig(rig, procedure.decision), procedure):
        orders = [
            (event.t, event.data["source"], event.data["target"], event.data["rate_per_s"])
            for event in walked.record.entries
            if walked.step.loads and event.kind == "command" and "target" in event.data
        ]
        found += _moves(walked.number - 1, orders, walked.ended_s, standing)
    return tuple(found)


def _moves(
    index: int, orders: Sequence[tuple[float, str, float, float]], end_s: float, standing: dict[str, float]
) -> Iterator[Move]:
    for number, (t_s, source, target, rate) in enumerate(orders):
        later = (order[0] for order in orders[number + 1 :] if order[1] == source)
        yield Move(index, source, standing[source], target, rate, next(later, end_s) - t_s)
        standing[source] = target
