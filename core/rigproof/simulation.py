"""What a simulator is: a rig with a known truth that stands under the drivers, at the wire."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from pydantic import BaseModel

from rigproof.clock import Clock
from rigproof.people import Answers

if TYPE_CHECKING:
    from rigproof.documents.rig import Rig
    from rigproof.instruments import Identity, Settings

SIMULATED_FIRMWARE = "simulated"  # every simulated instrument says so in *IDN?, so that no run takes it for a real one


@dataclass(frozen=True)
class Flaw:
    """A defect that can be planted."""

    name: str
    meaning: str  # one sentence: what is wrong, physically
    quantity: str  # what the size is, e.g. "share of the strain that stays behind"
    size: str  # the default, as written by a person, e.g. "5 %"; "" where a flaw has no size
    kind: str  # kind of quantity of the size, see rigproof.quantities.KINDS; "" where it has none


@dataclass(frozen=True)
class Planted:
    """A flaw chosen for a run; `size` in base units (None: the flaw has no size), `text` as written."""

    name: str
    size: float | None
    text: str


@dataclass(frozen=True)
class Service:
    """Simulated instruments reachable over TCP on loopback."""

    ports: Mapping[str, int]  # resource in rig.yaml -> port on 127.0.0.1
    clock_port: int  # where the rig's time is asked for and moved on


class Simulation(ABC):
    """One simulated rig in being."""

    visa_library: str  # hand this to PyVISA
    clock: Clock
    answers: Answers | None = None  # the simulated person, for instruments that are read by hand and steps that ask

    @abstractmethod
    def truth(self) -> dict[str, float]:
        """The true values the draw gave, by name, base units; for tests, never for a verdict."""

    def addresses(self) -> Mapping[str, str]:
        """Resource in rig.yaml -> what drivers in this process open instead; the others go through `visa_library`."""
        return {}

    @abstractmethod
    def serve(self, first_port: int) -> Service:
        """Serve each instrument over TCP on 127.0.0.1, ports from `first_port` on (0: free ones); returns at once."""

    @abstractmethod
    def close(self) -> None:
        """Forget the rig, stop serving."""


class StandIn(ABC):
    """What answers in the place of one instrument of a plugin's driver under `--simulated`: its words.

    `Driver.stand_in` names it. `about`: who it is by rig.yaml, its firmware `simulated`. `reading` gives what an input
    shows now: base unit of what its channel reads, with the noise of twin.yaml and errors within the accuracy of
    rig.yaml; ±inf for overload and open circuit.
    """

    message_end: bytes = b"\n"
    reply_end: bytes = b"\n"
    greeting: bytes = b""  # the line, without its end, that it sends by itself after each connection

    def __init__(self, settings: Settings, about: Identity, reading: Callable[[int], float]) -> None:
        self.settings = settings
        self.about = about
        self.reading = reading

    @abstractmethod
    def answer(self, message: str) -> str | bytes | None:
        """The reply to one message, both without terminators, text in Latin-1; None: it says nothing."""

    def at_load(self, channel_input: int, load: float) -> float:
        """The truth at an input, base unit, of a quantity that the simulated rig does not have, such as a length.

        `load`: on the part now, base unit. `reading` then gives this, with noise and errors.
        """
        raise NotImplementedError(f"input {channel_input} has no `at_load` at {load:g}")


class Simulator(ABC):
    """Makes simulated rigs."""

    kind: ClassVar[str]
    document: ClassVar[type[BaseModel] | None] = None  # what twin.yaml holds, for `rigproof schema twin`

    @abstractmethod
    def flaws(self) -> tuple[Flaw, ...]:
        """Every flaw that can be planted."""

    @abstractmethod
    def open(self, rig: Rig, twin_file: Path, seed: int, flaws: Sequence[Planted]) -> Simulation:
        """A simulated rig: truth drawn within the limits `rig` states; the same `seed` gives the same bytes."""
