"""How long a channel gives no reading, or the same one again and again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar, Self

from rigproof.quantities import parse, show

from .lock import BY_LIMIT, AtRest, Lock, Seen, Sight

TEST_S = "1 s"


@dataclass
class SilenceLock(Lock):
    """Seconds under load since the last reading that counts: one that came, or one that differs from the one before.

    It is asked whenever anything was read. A driver that blocks keeps everybody waiting until its `timeout`: the time
    is seen when it comes back, with a reading or without one. So `timeout` bounds what can be promised here.
    """

    kind: ClassVar[str] = "silence"
    needs_readings: ClassVar[bool] = False

    unchanged: bool = False  # the same reading again is no reading
    deaf: bool = False  # for a test: no reading counts
    _last_s: float | None = None
    _last: Seen | None = None

    def forget(self) -> None:
        """Begin anew."""
        self._last_s = self._last = None

    def figure(self, sight: Sight) -> tuple[float, float] | None:
        """Time since the last reading that counts; None without load, where nobody needs to look."""
        if not sight.under_load:
            self.forget()
            return None
        seen = None if self.deaf else sight.channels.get(self.channel)
        if self._last_s is None or (seen is not None and self._counts(seen)):
            self._last_s = sight.now_s
        self._last = seen or self._last
        return sight.now_s - self._last_s, sight.now_s - self._last_s

    def _counts(self, seen: Seen) -> bool:
        if not self.unchanged or self._last is None:
            return True
        return seen.lowest != seen.highest or seen.mean != self._last.mean

    @property
    def _what(self) -> str:
        return "unchanged" if self.unchanged else "silent"

    def in_words(self) -> str:
        """The time."""
        return f"{self._what} for longer than {self.above.text if self.above else ''} under load"

    def said(self, value: float) -> str:
        """The time so far."""
        return f"{self.channel} {self._what} for {show(value, self.measures, 4)}"

    def for_test(self, rest: Mapping[str, AtRest]) -> tuple[Self, str]:  # noqa: ARG002  whatever it reads
        """It takes no notice of its readings, and has little patience."""
        return replace(self, above=parse(TEST_S, "time"), deaf=True, _last_s=None, _last=None), BY_LIMIT
