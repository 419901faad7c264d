"""What a run tells the person at the bench; the words are made here, the look is the command's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from rigproof.verdict.record import Check


class Progress(Protocol):
    """A listener to a run."""

    looks: bool  # false: spares the run from making the texts of `reading`

    def step(self, number: int, of: int, kind: str) -> None:
        """A step begins."""

    def say(self, text: str) -> None:
        """Something happens, in a technician's words."""

    def reading(self, text: str, values: Mapping[str, str]) -> None:
        """A look at the rig while it waits or moves: what is going on, and channel -> shown value."""

    def checks(self, checks: Sequence[Check]) -> None:
        """A step was judged."""

    def alarm(self, text: str) -> None:
        """Something the person must see now."""


class Silent:
    """A listener that says nothing."""

    looks = False

    def step(self, number: int, of: int, kind: str) -> None:
        """Nothing."""

    def say(self, text: str) -> None:
        """Nothing."""

    def reading(self, text: str, values: Mapping[str, str]) -> None:
        """Nothing."""

    def checks(self, checks: Sequence[Check]) -> None:
        """Nothing."""

    def alarm(self, text: str) -> None:
        """Nothing."""
