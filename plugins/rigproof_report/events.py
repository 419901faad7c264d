"""What happened in a run, as stretches of its time: steps, stages of the load, where it stood, where it was shut in.

Read from what every step writes (`command`, `reached`, `step`), never from the name of a step kind, so that a kind
of step that nobody thought of here is marked as well.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from rigproof.journal import RESUMED, Entry


@dataclass(frozen=True)
class Span:
    """A named stretch of the run's time."""

    start_s: float
    end_s: float
    text: str


@dataclass(frozen=True)
class StepPart:
    """The entries from a step's begin to its end, or to the next step's begin."""

    step: int
    kind: str
    entries: tuple[Entry, ...]
    counts: bool = True  # false: it was cut off, and begun again when the run was resumed

    @property
    def start_s(self) -> float:
        """When it was begun."""
        return self.entries[0].t

    @property
    def end_s(self) -> float:
        """Time of its last entry."""
        return self.entries[-1].t

    @property
    def moves(self) -> list[Entry]:
        """The commands that moved a load."""
        return [e for e in self.entries if _commands_load(e)]


def step_parts(entries: Sequence[Entry]) -> list[StepPart]:
    """Every step that was begun, in order; a step that was begun twice is there twice."""
    begun = [i for i, e in enumerate(entries) if e.kind == "step" and e.data.get("taken") == "begun"]
    found: list[StepPart] = []
    for first, following in zip(begun, [*begun[1:], len(entries)], strict=True):
        span = entries[first:following]
        about = span[0].data
        last = next((i for i, e in enumerate(span) if i > 0 and e.kind in ("step", RESUMED)), len(span))
        whole = last < len(span) and span[last].kind == "step"
        part = StepPart(about["step"], about["step_kind"], tuple(span[: last + whole]))
        found = [replace(one, counts=one.counts and one.step != part.step) for one in found]
        found.append(part)
    return found


def stages(part: StepPart) -> list[Span]:
    """What the step said it moved the load for, the words before a colon; neighbours with the same words are one."""
    moves = part.moves
    ends = [*(e.t for e in moves[1:]), part.end_s]
    told = [(str(e.data.get("text", "")).partition(":")[0], e.t, end) for e, end in zip(moves, ends, strict=True)]
    found = []
    for text, group in groupby(told, key=lambda one: one[0]):
        spans = list(group)
        found.append(Span(spans[0][1], spans[-1][2], text))
    return found


def stands(part: StepPart) -> Iterator[Span]:
    """Where a load stood: from its being reached to the next move, or to a trip or safe end that took it off."""
    reached: Entry | None = None
    for entry in part.entries:
        if entry.kind == "reached":
            reached = entry
        elif reached is not None and _moves(entry):
            yield Span(reached.t, entry.t, "")
            reached = None
    if reached is not None:
        yield Span(reached.t, part.end_s, "")


def _moves(entry: Entry) -> bool:
    return _commands_load(entry) or entry.kind == "trip" or entry.kind.startswith("safe")


def _commands_load(entry: Entry) -> bool:
    return entry.kind == "command" and "target" in entry.data


def shut_in(part: StepPart) -> Iterator[Span]:
    """Where the part was shut off from its source: the hold."""
    shut: Entry | None = None
    for entry in _isolations(part.entries):
        if entry.data["isolate"] and shut is None:
            shut = entry
        elif not entry.data["isolate"] and shut is not None:
            yield _held(shut.t, entry.t)
            shut = None
    if shut is not None:
        yield _held(shut.t, part.end_s)


def _held(start_s: float, end_s: float) -> Span:
    return Span(start_s, end_s, f"shut in, {(end_s - start_s) / 60:.1f} min")


def _isolations(entries: Iterable[Entry]) -> Iterator[Entry]:
    return (e for e in entries if e.kind == "command" and isinstance(e.data.get("isolate"), bool))
