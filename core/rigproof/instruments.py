"""What a driver is, and what an instrument can do: the contract between steps and drivers.

Steps ask for an ability (`Reads`, `Shunts`, `Excites`, `TestsInsulation`, `Loads`, `Rotates`), never for a driver by
name.
All values cross this border in base units: Pa (gauge pressure), °C, Ω, V/V (bridge output), V, N, m, s.
Every method may raise `InstrumentError`; it never returns a number the instrument did not send.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, TypeVar

import numpy as np
import numpy.typing as npt
from pydantic import ConfigDict

from rigproof.clock import Clock
from rigproof.described import Described
from rigproof.people import NOBODY, Person
from rigproof.serial_ports import Port

if TYPE_CHECKING:
    from rigproof.documents.accuracy import Accuracy
    from rigproof.simulation import StandIn

FloatArray = npt.NDArray[np.float64]
NOT_ASKED = "not asked"  # firmware of an instrument that has no means to say who it is; the rig's word stands then


@dataclass(frozen=True)
class Identity:
    """What an instrument says it is (IEEE 488.2, 10.14, the four fields of *IDN?)."""

    maker: str
    model: str
    serial_number: str
    firmware: str


@dataclass(frozen=True)
class Connection:
    """Where an instrument is and how to reach it."""

    name: str  # the instrument's name in the rig, for messages
    resource: str  # VISA resource name, or what the driver's documentation says instead
    visa_library: str  # PyVISA library specification; "" takes PyVISA's own default
    timeout_s: float
    clock: Clock
    folder: Path = Path()  # of the rig: files that a driver reads are named from here
    reads: Mapping[int, str] = field(default_factory=dict)  # input -> kind that the rig's channel reads there
    person: Person = NOBODY  # for a driver that `asks_a_person`


class Settings(Described):
    """Base of a driver's own settings in rig.yaml (under `settings:`); keys are written with spaces."""

    model_config = ConfigDict(extra="forbid", frozen=True, alias_generator=lambda name: name.replace("_", " "))


class Driver(ABC):
    """One instrument. Constructing it touches nothing; `open` connects; after `close` it may be opened again."""

    kind: ClassVar[str]  # the word after `driver:` in rig.yaml
    settings_model: ClassVar[type[Settings]] = Settings
    asks_a_person: ClassVar[bool] = False  # true: it cannot work where nobody answers, see `rigproof.people`

    def __init__(self, connection: Connection, settings: Settings) -> None:
        self.connection = connection
        self.settings = settings

    @classmethod  # noqa: B027  a driver need not know its resources before
    def check_resource(cls, resource: str) -> None:
        """Raise `WrittenError` for a `resource:` that this driver could never open; here, any will do."""

    @classmethod  # noqa: B027  nor how they go with its settings
    def check_settings(cls, resource: str, settings: Settings) -> None:
        """Raise `WrittenError`, or `wrong` at a key, for settings that cannot go with this resource."""

    @classmethod
    def serial_port(cls, resource: str) -> Port | None:  # noqa: ARG003  drivers use it
        """The serial port that `resource` names, so that no two instruments are at one; None where it names none."""
        return None

    @classmethod
    def obstacle(cls, resource: str) -> str:  # noqa: ARG003  drivers use it
        """Why a live run could not open `resource` on this machine as it stands, with the remedy; "" where it might.

        A library that is not installed, a port that is not there. Looks, and opens nothing. No fault of the rig: it may
        be checked, planned and simulated at another desk.
        """
        return ""

    @classmethod
    def stand_in(cls) -> type[StandIn] | None:
        """What answers in the instrument's place under `--simulated`; None where nobody has written it.

        For an instrument that only reads, at a VISA resource: no simulator loads, feeds or switches through it.
        """
        return None

    @abstractmethod
    def open(self) -> Identity:
        """Connect, clear, apply the settings; say who answered."""

    def look(self) -> Identity:
        """Connect and say who answers, for a look before any run; `read` and `errors` may follow.

        A driver whose `open` sets, switches or clears anything overrides this, so that a look leaves it as it is.
        """
        return self.open()

    def diagnose(self) -> str:
        """After `look` failed: what stands in the way, and the remedy; "" where the driver cannot tell."""
        return ""

    def resume(self) -> Identity:
        """Connect again in the middle of a run, after a failed reading; say who answered.

        A driver whose `open` changes settings overrides this: what a zero rests on (excitation, filter, range, relay)
        stays as it is, and `InstrumentError` where it is no more as it was.
        """
        self.close()
        return self.open()

    @abstractmethod
    def close(self) -> None:
        """Let go of the instrument; never raises, may be called twice."""

    @abstractmethod
    def errors(self) -> list[str]:
        """Drain the instrument's own error queue, oldest first; empty when all is well.

        A run asks after each step: what another call meets in the queue it raises, or leaves there. Gives at most so
        many entries as a queue can hold, for a fault that stays leaves none empty.
        """


class Reads(ABC):
    """The instrument gives readings of numbered inputs."""

    watchable: ClassVar[bool] = True  # false: a reading costs a person's work, so that no limit is watched with it

    @classmethod
    def unreadable(cls, settings: Settings, channel_input: int, kind: str) -> str:  # noqa: ARG003  drivers use it
        """What in `settings` stands against reading `kind` at an input; "" where nothing does."""
        return ""

    @classmethod
    def most_readings(cls, settings: Settings) -> int | None:  # noqa: ARG003  drivers use it
        """How many readings of an input one `read` can give; None: any number. Steps then get fewer, never copies."""
        return None

    @classmethod
    def stated_accuracy(cls, settings: Settings, channel_input: int) -> Accuracy | None:  # noqa: ARG003  drivers use it
        """The accuracy that `settings` state of an input; it counts where rig.yaml leaves it out of the channel."""
        return None

    @classmethod
    def displayed(cls, settings: Settings, channel_input: int, reading: float) -> str:  # noqa: ARG003  drivers use it
        """A reading as the instrument's own display has it, where a person reads that; "" where nobody does."""
        return ""

    @abstractmethod
    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        """Take `count` readings of each input, `interval_s` apart; shape (count, len(inputs)), base units.

        Blocks for count * interval_s on the injected clock. Overload, open circuit and not-a-number come
        back as nan, never as a number. Base units by what the driver reads: V/V, Ω, Pa, °C, N, m.
        """


class Excites(ABC):
    """The instrument feeds a bridge."""

    @abstractmethod
    def excitation_v(self, channel_input: int) -> float:
        """The excitation voltage of an input as the instrument reports it."""

    @classmethod
    def set_excitation_v(cls, settings: Settings) -> float | None:  # noqa: ARG003  drivers use it
        """The excitation voltage that `settings` ask for, before any hardware; None where they do not say."""
        return None


class Shunts(ABC):
    """The instrument can put a calibration resistor across the active arm of an input."""

    @abstractmethod
    def shunt(self, channel_input: int, closed: bool) -> None:
        """Close or open the shunt relay, and read the relay back."""


class TestsInsulation(ABC):
    """The instrument measures insulation resistance at a set voltage."""

    __test__ = False  # not a pytest class

    @abstractmethod
    def insulation_ohm(self, channel_input: int, test_voltage_v: float, electrification_s: float) -> float:
        """Insulation resistance after `electrification_s` at `test_voltage_v` (sign = polarity), then 0 V again.

        `inf` when the resistance is above the instrument's range.
        """


class Loads(ABC):
    """The instrument puts load on the part. Values in the base unit of the source's load (Pa for pressure)."""

    @classmethod
    def unloadable(cls, settings: Settings, kind: str) -> str:  # noqa: ARG003  drivers use it
        """What in `settings` stands against a load of `kind`; "" where nothing does."""
        return ""

    @classmethod
    def cannot_make(cls, settings: Settings, target: float) -> str:  # noqa: ARG003  drivers use it
        """Why a source with these `settings` cannot put `target` on the part, and what it can; "" where it can."""
        return ""

    @classmethod
    def cautions(cls, settings: Settings) -> tuple[str, ...]:  # noqa: ARG003  drivers use it
        """What people must mind about this kind of source, in whole sentences."""
        return ()

    @classmethod
    def isolates(cls, settings: Settings) -> bool:  # noqa: ARG003  drivers use it
        """Whether `isolate` keeps the load on the part without the source; a hold needs it."""
        return True

    @abstractmethod
    def rise_to(self, target: float, rate_per_s: float) -> None:
        """Start to move the load to `target` at `rate_per_s` (> 0, both directions); returns at once."""

    @abstractmethod
    def settled(self) -> bool:
        """True when the source says it has reached its target."""

    @abstractmethod
    def isolate(self, isolated: bool) -> None:
        """Shut (True) or open (False) the valve between source and part, for a decay hold."""

    @abstractmethod
    def go_safe(self) -> None:
        """Take the source to its safe state (pump off, vent open); must work in any state, may be called twice."""

    @abstractmethod
    def is_safe(self) -> bool:
        """Read the safe state back from the instrument."""


class Rotates(ABC):
    """The instrument turns the part about the axis of the load, or has it turned."""

    @classmethod
    def rotates(cls, settings: Settings) -> bool:  # noqa: ARG003  drivers use it
        """Whether one with these `settings` can."""
        return True

    @abstractmethod
    def rotate_to(self, angle_rad: float) -> None:
        """Turn the unloaded part to `angle_rad` from its first position; returns when it stands there.

        The angle is read back from the instrument, or typed by the person who turned the part.
        """


A = TypeVar("A")


def able(driver: Driver | None, ability: type[A]) -> A | None:
    """The driver as something with this ability; None where it lacks it, or where there is no driver."""
    return driver if isinstance(driver, ability) else None
