"""How fast a channel changes, so that noise alone does not count."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import ClassVar, Self

from rigproof.documents.interlocks import LOOK_EVERY_S
from rigproof.quantities import Quantity, show

from .lock import BY_LIMIT, BY_LOAD, AtRest, Lock, Sight, limit_for_test


@dataclass
class RateLock(Lock):
    """The newest reading less the youngest that is at least `over` older, over the time between.

    A block of readings counts as its mean, and two rates in a row must be beyond the limit: so one reading that is
    off, as noise or a spike makes it, never trips. A true rise trips one reading later.
    """

    kind: ClassVar[str] = "rate"

    over: Quantity = field(kw_only=True)
    _past: deque[tuple[float, float]] = field(default_factory=deque)  # time and mean, oldest first
    _rate: float | None = None

    @property
    def looks_back_s(self) -> float:
        """The time it is taken over, and a reading more."""
        return self.over.value + LOOK_EVERY_S

    def forget(self) -> None:
        """Begin anew."""
        self._past.clear()
        self._rate = None

    def figure(self, sight: Sight) -> tuple[float, float] | None:
        """Of the last two rates, the greater against a fall and the lesser against a rise."""
        seen = sight.channels.get(self.channel)
        if seen is None:
            return None
        past, t_s = self._past, seen.t_s
        past.append((t_s, seen.mean))
        while len(past) > 1 and past[1][0] <= t_s - self.over.value:
            past.popleft()
        then_s, then = past[0]
        if t_s - then_s < self.over.value:
            return None
        before, self._rate = self._rate, (seen.mean - then) / (t_s - then_s)
        return None if before is None else (max(before, self._rate), min(before, self._rate))

    def in_words(self) -> str:
        """Both directions, and the time it is taken over."""
        limits = [f"rising faster than {self.above.text}"] if self.above else []
        limits += [f"falling faster than {self.below.text}"] if self.below else []
        return f"{' or '.join(limits)} over {self.over.text}"

    def said(self, value: float) -> str:
        """The rate and its direction."""
        way = "rising" if value > 0 else "falling"
        return f"{self.channel} {way} by {show(abs(value), self.measures, 4)} over {self.over.text}"

    def foretold(self) -> str:
        """Of the rate."""
        return f"{self.channel} is foreseen to change by"

    def for_test(self, rest: Mapping[str, AtRest]) -> tuple[Self, str]:
        """Half the rate that the small load makes, else a rate that even a channel at rest passes."""
        at_rest = rest[self.channel]
        upper = self.above is not None
        level, how = -(2 * at_rest.scatter + 1e-12) / self.over.value, BY_LIMIT
        if at_rest.half_way is not None and at_rest.move is not None and at_rest.move > 0 and upper:
            level, how = at_rest.move / 2 / self.over.value, BY_LOAD
        limit = limit_for_test(level if upper else -level, self.measures)
        copy = replace(self, above=limit if upper else None, below=None if upper else limit, _past=deque(), _rate=None)
        return copy, how
