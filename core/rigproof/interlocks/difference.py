"""How far two channels of one quantity are apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import ClassVar, Self

from rigproof.quantities import show

from .lock import BY_LIMIT, AtRest, Lock, Sight, limit_for_test


@dataclass
class DifferenceLock(Lock):
    """The means of two channels that were read together; readings of different moments are not compared."""

    kind: ClassVar[str] = "difference"

    against: str = field(kw_only=True)

    @property
    def channels(self) -> tuple[str, ...]:
        """Both."""
        return self.channel, self.against

    def figure(self, sight: Sight) -> tuple[float, float] | None:
        """The first less the other."""
        one, other = sight.channels.get(self.channel), sight.channels.get(self.against)
        if one is None or other is None:
            return None
        return one.mean - other.mean, one.mean - other.mean

    def in_words(self) -> str:
        """How far, whichever is higher."""
        return f"apart from {self.against} by more than {self.above.text if self.above else ''}"

    def said(self, value: float) -> str:
        """How far they are apart."""
        return f"{self.channel} and {self.against} apart by {show(abs(value), self.measures)}"

    def foretold(self) -> str:
        """Of the difference."""
        return f"{self.channel} and {self.against} are foreseen to differ by"

    def for_test(self, rest: Mapping[str, AtRest]) -> tuple[Self, str]:
        """Less than they are apart now."""
        one, other = rest[self.channel], rest[self.against]
        level = one.mean - other.mean - one.scatter - other.scatter - 1e-12
        return replace(self, above=limit_for_test(level, self.measures), below=None), BY_LIMIT
