"""A clock with an agenda: things that happen to the rig at a moment of their own."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from rigproof_twin.clock import VirtualClock


class AgendaClock(VirtualClock):
    """The twin's clock; whatever falls due while time passes is done on the way."""

    def __init__(self, starts: datetime) -> None:
        super().__init__(starts)
        self._agenda: list[tuple[float, Callable[[], None]]] = []

    def at(self, moment_s: float, action: Callable[[], None]) -> None:
        """Do `action` as soon as the clock shows `moment_s` or more."""
        self._agenda.append((moment_s, action))

    def wait(self, seconds: float) -> None:
        """Let time pass and do what has fallen due, in the order of the moments."""
        super().wait(seconds)
        now = self.now()
        if due := [entry for entry in self._agenda if entry[0] <= now]:
            self._agenda = [entry for entry in self._agenda if entry[0] > now]
            for _, action in sorted(due, key=lambda entry: entry[0]):
                action()
