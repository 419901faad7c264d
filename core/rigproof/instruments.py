"""What a driver is, and what an instrument can do: the contract between steps and drivers.

Steps ask for an ability (`Reads`, `Shunts`, `Excites`, `TestsInsulation`, `Loads`), never for a driver by name.
All values cross this border in base units: Pa (gauge pressure), °C, Ω, V/V (bridge output), V, N, s.
Every method may raise `InstrumentError`; it never returns a number the instrument did not send.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Annotated, ClassVar, Literal, TypeVar

import numpy as np
import numpy.typing as npt
from pydantic import BaseModel, ConfigDict, Field

from rigproof.clock import Clock

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Identity:
    """What an instrument says it is (IEEE 488.2, 10.14, the four fields of *IDN?); None: it cannot say."""

    maker: str | None
    model: str | None
    serial_number: str | None
    firmware: str | None


class Settings(BaseModel):
    """Base of a driver's own settings in rig.yaml (under `settings:`); keys are written with spaces."""

    model_config = ConfigDict(extra="forbid", frozen=True, alias_generator=lambda name: name.replace("_", " "))


class Line(Settings):
    """How characters run on a serial line, and what ends a message on it or on a socket (`line:` in rig.yaml)."""

    baud_rate: Annotated[int, Field(ge=50, le=4_000_000)] = 9600
    data_bits: Annotated[int, Field(ge=5, le=8)] = 8
    parity: Literal["none", "odd", "even", "mark", "space"] = "none"
    stop_bits: Literal["1", "1.5", "2"] = "1"
    flow_control: Literal["none", "XON/XOFF", "RTS/CTS", "DTR/DSR"] = "none"
    terminator: Literal["LF", "CR", "CR LF"] = "LF"


@dataclass(frozen=True)
class Connection:
    """Where an instrument is and how to reach it."""

    name: str  # the instrument's name in the rig, for messages
    resource: str  # VISA resource name, or what the driver's documentation says instead
    visa_library: str  # PyVISA library specification; "" takes PyVISA's own default
    timeout_s: float
    clock: Clock
    line: Line = field(default_factory=Line)


@dataclass(frozen=True)
class Problem:
    """What is wrong with an instrument's entry in rig.yaml: the keys down to the place, what is wrong, what to do."""

    path: tuple[str, ...]  # below the instrument, such as ("line", "parity")
    message: str
    remedy: str


class Driver(ABC):
    """One instrument. Constructing it touches nothing; `open` connects; after `close` it may be opened again."""

    kind: ClassVar[str]  # the word after `driver:` in rig.yaml
    settings_model: ClassVar[type[Settings]] = Settings

    def __init__(self, connection: Connection, settings: Settings) -> None:
        self.connection = connection
        self.settings = settings

    @classmethod
    def problems(cls, resource: str, line: Line, settings: Settings) -> Sequence[Problem]:  # noqa: ARG003  drivers use them
        """What in the entry can work on no machine. Pure: a journal's rig is read with it years later."""
        return [Problem(("line",), f"a {cls.kind} has no line to set", "leave `line` out")] if line != Line() else []

    @classmethod
    def obstacles(cls, resource: str) -> Sequence[str]:  # noqa: ARG003  drivers use it
        """What on this machine stands in the way, each with its remedy. Looks, and opens nothing."""
        return ()

    @abstractmethod
    def open(self) -> Identity:
        """Connect, clear, apply the settings; say who answered."""

    @abstractmethod
    def close(self) -> None:
        """Let go of the instrument; never raises, may be called twice."""

    @abstractmethod
    def errors(self) -> list[str]:
        """Drain the instrument's own error queue, oldest first; empty when all is well."""


class Reads(ABC):
    """The instrument gives readings of numbered inputs."""

    @classmethod
    def unreadable(cls, settings: Settings, quantity: str, channel_input: int) -> str:  # noqa: ARG003  drivers use them
        """Why `settings` cannot give this kind of quantity at this input; "" where they can, or do not say."""
        return ""

    @abstractmethod
    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        """Take `count` readings of each input, `interval_s` apart; shape (count, len(inputs)), base units.

        Blocks for count * interval_s on the injected clock. Overload, open circuit and not-a-number come
        back as nan, never as a number. Base units by what the driver reads: V/V, Ω, Pa, °C.
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
    def unloadable(cls, settings: Settings, load: str) -> str:  # noqa: ARG003  drivers use them
        """Why `settings` cannot put on this kind of load; "" where they can, or do not say."""
        return ""

    @classmethod
    def isolates(cls, settings: Settings) -> bool:  # noqa: ARG003  drivers use it
        """Whether there is a valve to shut between source and part."""
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


A = TypeVar("A")


def able(driver: Driver | None, ability: type[A]) -> A | None:
    """The driver as something with this ability; None where it lacks it, or where there is no driver."""
    return driver if isinstance(driver, ability) else None
