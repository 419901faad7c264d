"""What one interlock is while a rig is watched: a figure made of readings, with an upper and a lower limit."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import ClassVar, NamedTuple, Self

from rigproof.errors import Tripped
from rigproof.quantities import Quantity, show


class Seen(NamedTuple):
    """What one block of readings shows of a channel, in the quantity that it measures; missing ones left out."""

    t_s: float  # the middle of the block, seconds since the run began
    lowest: float
    highest: float
    mean: float


@dataclass(frozen=True, slots=True)
class Sight:
    """Everything that was read together."""

    now_s: float  # seconds since the run began
    under_load: bool
    channels: Mapping[str, Seen]  # those that gave a number
    missing: frozenset[str] = frozenset()  # those of which a reading is missing
    began_s: Mapping[str, float] = field(default_factory=dict)  # when the reading of each was begun

    def begun(self, channels: Iterable[str]) -> float:
        """When the first reading of these channels was begun."""
        return min((self.began_s[name] for name in channels if name in self.began_s), default=self.now_s)


@dataclass(frozen=True)
class AtRest:
    """A channel before a test of its interlocks: what it reads without load, and where it is expected to go."""

    lowest: float
    highest: float
    mean: float
    move: float | None  # expected change under the small load of the test; None where load does not move it

    @property
    def scatter(self) -> float:
        """From the lowest reading to the highest."""
        return self.highest - self.lowest

    @property
    def half_way(self) -> float | None:
        """A limit that only the expected change passes; None where that would drown in the scatter."""
        if self.move is None or abs(self.move) / 2 <= 2 * self.scatter:
            return None
        return self.mean + self.move / 2


@dataclass
class Lock(ABC):
    """One interlock. It is shown every reading, and answers with a figure that its limits are for."""

    kind: ClassVar[str]  # what it watches, for plans
    needs_readings: ClassVar[bool] = True  # one that is missing under load trips it

    name: str
    channel: str
    measures: str  # kind of quantity of the figure
    above: Quantity | None
    below: Quantity | None
    under_load_only: bool = False  # a bridge without load shows shunts and zeros, which are no strain of the part

    @property
    def channels(self) -> tuple[str, ...]:
        """All that it needs to be read."""
        return (self.channel,)

    @property
    def looks_back_s(self) -> float:
        """How far back in time it must have been shown readings to say anything."""
        return 0.0

    @abstractmethod
    def figure(self, sight: Sight) -> tuple[float, float] | None:
        """Lowest and highest value of what is watched; None where these readings say nothing of it."""

    def forget(self) -> None:  # noqa: B027  most remember nothing
        """What was read before does not count any more: another zero, or no load."""

    def in_words(self) -> str:
        """What it trips at."""
        limits = [f"{word} {limit.text}" for word, limit in (("above", self.above), ("below", self.below)) if limit]
        return " or ".join(limits)

    def said(self, value: float) -> str:
        """What was seen, for the message of a trip."""
        return f"{self.channel} at {show(value, self.measures)}"

    def foretold(self) -> str:
        """What is foreseen, before its value."""
        return f"{self.channel} is foreseen at"

    def check(self, sight: Sight) -> None:
        """Raise `Tripped` where the figure is beyond a limit."""
        found = self.figure(sight)
        if found is None:
            return
        lowest, highest = found
        if self.above is not None and highest > self.above.value:
            raise self._trip(sight, highest, self.above)
        if self.below is not None and lowest < self.below.value:
            raise self._trip(sight, lowest, self.below)

    def _trip(self, sight: Sight, value: float, limit: Quantity) -> Tripped:
        text = f"interlock {self.name!r}: {self.said(value)}, limit {limit.text}, {sight.now_s:.1f} s into the run"
        return Tripped(text, self.name, self.channel, value, limit.text, sight.begun(self.channels), sight.now_s)

    @abstractmethod
    def for_test(self, rest: Mapping[str, AtRest]) -> tuple[Self, str]:
        """A copy that trips at a harmless level, and how it is brought to: `BY_LOAD` or `BY_LIMIT`."""


BY_LOAD = "by load"  # the limit lies between what is read without load and what the small load makes of it
BY_LIMIT = "by its limit"  # load does not move it so little: the limit is set where it is beyond it already


def just_beyond(rest: AtRest, upper: bool) -> float:
    """A limit that every reading at rest is beyond, noise or none."""
    margin = rest.scatter + 1e-9 * abs(rest.mean) + 1e-12
    return rest.lowest - margin if upper else rest.highest + margin


def limit_for_test(value: float, kind: str) -> Quantity:
    """A limit made for a test."""
    return Quantity(value, kind, f"{show(value, kind, 4)} (set for the test)")
