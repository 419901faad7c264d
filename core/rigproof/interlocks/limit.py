"""A limit on a channel, and a limit that is a share of the part's yield strain."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar, Self

from .lock import BY_LIMIT, BY_LOAD, AtRest, Lock, Sight, just_beyond, limit_for_test


@dataclass
class LimitLock(Lock):
    """Each reading counts, also among many."""

    kind: ClassVar[str] = "limit"

    def figure(self, sight: Sight) -> tuple[float, float] | None:
        """The lowest and the highest reading."""
        seen = sight.channels.get(self.channel)
        return None if seen is None else (seen.lowest, seen.highest)

    def for_test(self, rest: Mapping[str, AtRest]) -> tuple[Self, str]:
        """On the side to which load moves the channel, else beyond what it reads now."""
        at_rest = rest[self.channel]
        level, how = at_rest.half_way, BY_LOAD
        upper = self.above is not None and (at_rest.move is None or at_rest.move > 0 or self.below is None)
        if level is None or at_rest.move is None or (at_rest.move > 0) != upper:
            level, how = just_beyond(at_rest, upper), BY_LIMIT
        limit = limit_for_test(level, self.measures)
        return replace(self, above=limit if upper else None, below=None if upper else limit), how


@dataclass
class ShareOfYieldLock(LimitLock):
    """Strain of either sign against a share of the strain at first yield."""

    kind: ClassVar[str] = "share of yield"

    def in_words(self) -> str:
        """One limit, whatever the sign."""
        assert self.above is not None, "it has both limits"
        return f"beyond {self.above.text} either way"
