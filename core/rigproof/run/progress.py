"""What a run tells the person at the bench; the words are made here, the look is the command's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from pathlib import Path

    from rigproof.verdict.record import Check

    from .opening import Reach
    from .plan import Plan


@dataclass(frozen=True)
class Reading:
    """One channel as it was just read, in the base unit of `kind`; the mean where several readings were taken."""

    value: float | None  # None: overload, open circuit, above the range
    kind: str
    shown: str  # with unit; what the value is where there is none
    at_s: float  # of the journal
    expected: float | None = None  # by the part model at the present load, of a gauge by its packet
    U: float | None = None  # of reading less expected, at the coverage of the procedure
    target: float | None = None  # of a source's channel: the load that the source was told to reach

    @property
    def apart(self) -> bool:
        """Whether reading and expected differ by more than U."""
        if self.value is None or self.expected is None or self.U is None:
            return False
        return abs(self.value - self.expected) > self.U


def just_read(values: Mapping[str, Reading]) -> dict[str, Reading]:
    """Those of a look that were read last."""
    last_s = max((reading.at_s for reading in values.values()), default=0.0)
    return {name: reading for name, reading in values.items() if reading.at_s == last_s}


class Progress(Protocol):
    """A listener to a run. What it raises ends the run, except while the rig is made safe."""

    @property
    def looks(self) -> bool:
        """Whether it wants the next `reading`; false spares the run from working out what is expected."""

    def begun(self, plan: Plan, reach: Reach, folder: Path) -> None:
        """The run begins; no instrument is open yet."""

    def step(self, number: int, of: int, kind: str) -> None:
        """A step begins."""

    def say(self, text: str) -> None:
        """Something happens, in a technician's words."""

    def waiting(self, text: str, left_s: float, now_s: float) -> None:
        """The rig waits or moves: what for, how long still; about once a second, after the look. `now_s` as `at_s`."""

    def reading(self, text: str, values: Mapping[str, Reading]) -> None:
        """A look at the rig: what is going on, and what its channels read, now and since the last look of the step."""

    def checks(self, checks: Sequence[Check]) -> None:
        """A step was judged."""

    def alarm(self, text: str) -> None:
        """Something the person must see now."""

    def lowering(self, source: str, load: Reading | None, text: str) -> None:
        """A source was told to go to its safe state and has not been seen there yet; told about twice a second."""

    def safe(self, source: str, load: Reading | None, text: str) -> None:
        """A source was seen in its safe state, and the load gone. Where it is not, that is an alarm."""


class Silent:
    """A listener that says nothing."""

    looks = False

    def begun(self, plan: Plan, reach: Reach, folder: Path) -> None:
        """Nothing."""

    def step(self, number: int, of: int, kind: str) -> None:
        """Nothing."""

    def say(self, text: str) -> None:
        """Nothing."""

    def waiting(self, text: str, left_s: float, now_s: float) -> None:
        """Nothing."""

    def reading(self, text: str, values: Mapping[str, Reading]) -> None:
        """Nothing."""

    def checks(self, checks: Sequence[Check]) -> None:
        """Nothing."""

    def alarm(self, text: str) -> None:
        """Nothing."""

    def lowering(self, source: str, load: Reading | None, text: str) -> None:
        """Nothing."""

    def safe(self, source: str, load: Reading | None, text: str) -> None:  # noqa: ARG002  it is in the text
        """One of the things that happen."""
        self.say(f"{source} safe: {text}")
