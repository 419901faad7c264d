"""How long a channel may be beyond a limit: the time at pressure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import ClassVar, Self

from rigproof.quantities import parse, show

from .limit import LimitLock
from .lock import AtRest, Lock, Sight

TEST_S = "1 s"


@dataclass
class TimeBeyondLock(Lock):
    """Seconds that lie between readings which are both beyond the limit, added up over the whole run.

    So noise at the limit can make it count a little less or more, and never begin anew.
    """

    kind: ClassVar[str] = "time beyond a limit"

    limit: LimitLock = field(kw_only=True)
    _total_s: float = 0.0
    _beyond_since_s: float | None = None

    def forget(self) -> None:
        """What comes next does not go on from the last reading; the time so far stays."""
        self._beyond_since_s = None

    def figure(self, sight: Sight) -> tuple[float, float] | None:
        """The time so far."""
        seen = sight.channels.get(self.channel)
        if seen is None:
            return None
        above, below = self.limit.above, self.limit.below
        beyond = (above is not None and seen.mean > above.value) or (below is not None and seen.mean < below.value)
        if beyond and self._beyond_since_s is not None:
            self._total_s += seen.t_s - self._beyond_since_s
        self._beyond_since_s = seen.t_s if beyond else None
        return self._total_s, self._total_s

    def in_words(self) -> str:
        """The limit and the time."""
        return f"{self.limit.in_words()} for longer than {self.above.text if self.above else ''} in all"

    def said(self, value: float) -> str:
        """The time so far."""
        return f"{self.channel} {self.limit.in_words()} for {show(value, self.measures, 4)}"

    def foretold(self) -> str:
        """Of the time."""
        return f"{self.channel} is foreseen {self.limit.in_words()} for"

    def for_test(self, rest: Mapping[str, AtRest]) -> tuple[Self, str]:
        """The same, with a limit that the test passes and a short time."""
        limit, how = self.limit.for_test(rest)
        return replace(self, limit=limit, above=parse(TEST_S, "time"), _total_s=0.0, _beyond_since_s=None), how
