"""Every error the tool handles, and the exit code each one leads to.

A message names place, value, rule and remedy. Only these classes become one line for the user;
anything else is a defect in the tool.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import IntEnum
from sys import modules


class ExitCode(IntEnum):
    """What a command says to the program that called it."""

    ACCEPT = 0  # every check accepted (or: the command did its work); the verdict lists what was not shown
    REJECT = 1  # a check is surely outside its tolerance (`diff`: something differs; `power --matrix`: a hole)
    UNDECIDED = 2  # the measurement cannot tell, a better one is the answer (`power --matrix`: sound rigs are refused)
    VOID = 3  # the run cannot be judged: trip, lost instrument, operator stop
    WRONG_INPUT = 4  # a document or the command line is wrong
    BROKEN_PLUGIN = 5  # a plugin cannot be loaded or breaks its contract


def raised_at(error: BaseException, owner: type) -> str:
    """`file:line` where a call of `owner` failed: in the file of that class, not in what it calls."""
    return raised_in(error, getattr(modules.get(owner.__module__), "__file__", None))


def raised_in(error: BaseException, home: str | None) -> str:
    """`file:line` where a call into the file `home` failed: in that file, not in what it calls.

    No file is read: a safe end asks this between two commands.
    """
    from traceback import walk_tb

    places = [(frame.f_code.co_filename, line) for frame, line in walk_tb(error.__traceback__)]
    file, line = ([place for place in places if place[0] == home] or places)[-1]
    return f"{file}:{line}"


class RigproofError(Exception):
    """Base of all handled errors."""

    exit_code = ExitCode.WRONG_INPUT


@dataclass(frozen=True)
class Fault:
    """One thing wrong in a document. `line` and `column` count from 1; 0 means the whole file."""

    file: str
    line: int
    column: int
    where: str  # path inside the document, such as `steps[2].shunt.resistor`; lists count from 1
    message: str  # value and rule
    remedy: str = ""
    text: str = ""  # the line itself
    width: int = 1  # characters to underline

    @property
    def place(self) -> str:
        """File, line, column and the way to the key: `rig.yaml:41:16: channels.hoop.reduction`."""
        return f"{self.file}:{self.line}:{self.column}: {self.where}" if self.line else f"{self.file}: {self.where}"

    @property
    def value(self) -> str:
        """What stands there."""
        return self.text[self.column - 1 : self.column - 1 + self.width] if self.line else ""


class DocumentError(RigproofError):
    """A document cannot be used; carries every fault found, never only the first."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(f"{f.file}:{f.line}:{f.column}: {f.where}: {f.message}" for f in self.faults))


class UsageError(RigproofError):
    """The command line asks for something that does not exist or does not fit."""


class QuantityError(RigproofError, ValueError):
    """A written quantity cannot be read (also a ValueError, so that pydantic reports its place)."""


class NumberError(RigproofError, ValueError):
    """A computation was asked for with numbers outside its rule (names value, rule, remedy)."""


class PluginFault(RigproofError):
    """A plugin is broken; the message is one line: plugin, distribution, version, module, cause."""

    exit_code = ExitCode.BROKEN_PLUGIN


class InstrumentError(RigproofError):
    """An instrument did not answer, answered nonsense, or is not the one the rig names.

    `ask_why` finds out what stands in the way, as `Driver.diagnose` does; a line on which `open` failed sets it.
    """

    exit_code = ExitCode.VOID

    def __init__(self, instrument: str, message: str) -> None:
        self.instrument = instrument
        self.ask_why: Callable[[], str] = str  # which gives ""
        super().__init__(f"{instrument}: {message}")


class Tripped(RigproofError):
    """An interlock fired; the run is over. `value` is in base units.

    `began_s` and `read_s`: when the reading was begun and when it was there, seconds since the run began.
    """

    exit_code = ExitCode.VOID

    def __init__(
        self,
        message: str,
        interlock: str = "",
        channel: str = "",
        value: float | None = None,
        limit: str = "",
        began_s: float | None = None,
        read_s: float | None = None,
    ) -> None:
        self.interlock, self.channel, self.value, self.limit = interlock, channel, value, limit
        self.began_s, self.read_s = began_s, read_s
        self.took_s: float | None = None  # from the reading to the last safe command, once that was sent
        super().__init__(message)


class Stopped(RigproofError):
    """The operator (Ctrl-C) or the system (SIGTERM) stopped the run."""

    exit_code = ExitCode.VOID


class Unanswered(RigproofError):
    """A person whom a step asked did not answer; the run is over."""

    exit_code = ExitCode.VOID


class Suspended(RigproofError):
    """A step pauses the run on purpose, such as for a cure: `acquire` raises it, with no load on the part.

    The run ends safe, its verdict is `void` ("suspended until …"), and `rigproof run --resume` goes on with it from
    `not_before` on, a date with its time zone. The step is then begun again and finds in `live.record().earlier` what
    it wrote before, and so does its `judge` in `record.earlier`.
    """

    exit_code = ExitCode.VOID

    def __init__(self, why: str, not_before: datetime) -> None:
        if not_before.tzinfo is None:
            raise ValueError(f"not_before={not_before.isoformat()}: a pause ends at a date with its time zone; add UTC")
        self.why = why
        self.not_before = not_before.astimezone(UTC)
        super().__init__(f"until {self.not_before:%Y-%m-%d %H:%M:%S} UTC: {why}")


class JournalError(RigproofError):
    """A journal cannot be read or does not hold together."""


class RecordLostError(JournalError):
    """The journal of a run under way cannot be kept; the rig was made safe."""

    exit_code = ExitCode.VOID
