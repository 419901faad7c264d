"""Drivers `replay journal` and `replay journal source`: a run's own record taken again, reading for reading.

The replay keeps the time of the record: a reading is answered by the next block that was read so, and a command waits
for the moment at which it was given then. So the same procedure meets the same readings; another one is told where the
record has nothing for it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, ClassVar

import numpy as np
from pydantic import Field

from rigproof.errors import DocumentError, InstrumentError
from rigproof.instruments import Connection, Driver, FloatArray, Identity, Loads, Reads, Settings, Shunts
from rigproof.instruments import TestsInsulation as Insulates
from rigproof.journal import Entry
from rigproof.quantities import did_you_mean, show
from rigproof.replaying import REPLAYED_FIRMWARE, Recorded, Replays

from .journal_record import SAFE, SLACK_S, Block, JournalRecord, read_journal_record

PATIENCE_S = 150.0  # a run waits so long for its load to be gone, for a reading far less: the record has none here
SAME = 1e-6  # relative: one target or voltage, written twice


class JournalSettings(Settings):
    """`settings:` of the driver `replay journal`: the journal's channel that each input was."""

    inputs: Annotated[dict[int, str], Field(min_length=1)]


class JournalSourceSettings(Settings):
    """`settings:` of the driver `replay journal source`: which source of the journal this one was."""

    source: str


class JournalDriver(Driver, Replays):
    """What both share: the journal, and its time on the injected clock."""

    def __init__(self, connection: Connection, settings: Settings) -> None:
        super().__init__(connection, settings)
        self.path = Path(connection.folder) / connection.resource
        self._loaded: JournalRecord | None = None
        self._opened_s: float | None = None

    @property
    def record(self) -> JournalRecord:
        """The journal."""
        if self._loaded is None:
            self._loaded = read_journal_record(self.path)
        return self._loaded

    def read_record(self) -> Recorded:
        """Read and verify the journal."""
        return self.record.recorded

    def open(self) -> Identity:
        """Read the journal; its zero is now, and stays so when the driver is opened again."""
        try:
            record = self.record
        except DocumentError as error:
            raise InstrumentError(self.connection.name, f"{error}; `rigproof check` shows every fault") from None
        if self._opened_s is None:
            self._opened_s = self.connection.clock.now()
        return Identity("record", self.path.name, record.sha256, REPLAYED_FIRMWARE)

    def close(self) -> None:
        """Nothing is held."""

    def errors(self) -> list[str]:
        """A record reports nothing."""
        return []

    def now(self) -> float:
        """Seconds since the recorded run began."""
        if self._opened_s is None:
            raise InstrumentError(self.connection.name, "was not opened; open it first")
        return self.connection.clock.now() - self._opened_s

    def until(self, t: float) -> None:
        """Let the time pass to a moment of the record."""
        self.connection.clock.wait(max(0.0, t - self.now()))

    def happened(self, what: str, entry: Entry | None) -> Entry:
        """Let the time pass to an event. `InstrumentError` where the record does not have it."""
        if entry is None:
            raise self.nothing(what)
        self.until(entry.t)
        return entry

    def nothing(self, what: str) -> InstrumentError:
        """The record does not have what is asked for."""
        return InstrumentError(
            self.connection.name,
            f"{self.path.name} has {what} after {self.now():.6g} s; only what the recorded run did can be replayed: "
            "take its own procedure, with other limits where you like",
        )

    def known(self) -> JournalRecord | None:
        """The journal; None where it has faults, which are told elsewhere."""
        try:
            return self.record
        except DocumentError:
            return None


class ReplayJournal(JournalDriver, Reads, Shunts, Insulates):
    """Every instrument that gave readings."""

    kind: ClassVar[str] = "replay journal"
    settings_model: ClassVar[type[Settings]] = JournalSettings

    @property
    def inputs(self) -> dict[int, str]:
        """The journal's channel of each input."""
        assert isinstance(self.settings, JournalSettings)
        return self.settings.inputs

    def problems(self) -> Sequence[tuple[tuple[str | int, ...], str, str]]:
        """Inputs that nothing feeds, channels that the journal does not have or that were something else in it."""
        found: list[tuple[tuple[str | int, ...], str, str]] = []
        record = self.known()
        for number, kind in self.connection.reads.items():
            name = self.inputs.get(number)
            if name is None:
                known = ", ".join(map(str, self.inputs))
                found.append(
                    (("inputs",), f"a channel reads input {number}; here are {known}", "add it, or correct one")
                )
            elif record is not None and name not in record.rig.channels:
                said = f"the journal has no channel {name!r}"
                found.append((("inputs", str(number)), said, did_you_mean(name, record.rig.channels)))
            elif record is not None and (was := record.rig.channels[name].reads) != kind:
                said = f"{name!r} read a {was}, and the channel reads a {kind}"
                found.append((("inputs", str(number)), said, "name the right channel, or correct `measures`"))
        return found

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:
        """The next block of these channels that was read so; the clock goes to its end, as it did then.

        A look that the recorded run did not take, since its own clock had run a little further, sees the next reading
        and lets no time pass.
        """
        names = tuple(self._name(number) for number in inputs)
        block = self.record.next_block(self.now(), names, count, interval_s)
        what = f"no {count} readings, {interval_s:g} s apart, of {', '.join(names)}"
        if block is None:
            raise self.nothing(what)
        if block.start(names) - self.now() > PATIENCE_S:
            raise self.nothing(f"{what} within {PATIENCE_S:g} s")
        if count > 1 or not self._out_of_turn(block, names):
            self.until(block.end(names))
        return np.column_stack([block.values[name][:count] for name in names])

    def _out_of_turn(self, block: Block, names: tuple[str, ...]) -> bool:
        """True where a look meets a longer block, or one that was read only after the next command."""
        told = self.record.next_event(self.now() + 2 * SLACK_S, ("command",))
        return any(len(block.values[name]) > 1 for name in names) or (told is not None and told.n < block.n)

    def shunt(self, channel_input: int, closed: bool) -> None:
        """Let the time pass to the moment at which the relay was switched."""
        name = self._name(channel_input)
        entry = self.record.next_event(self.now(), ("command",), channel=name, shunt=closed)
        self.happened(f"no {'closing' if closed else 'opening'} of the shunt relay of {name}", entry)

    def insulation_ohm(self, channel_input: int, test_voltage_v: float, electrification_s: float) -> float:  # noqa: ARG002
        """The next insulation test of this channel at this voltage; `inf` where it was above the range."""
        name = self._name(channel_input)
        entry = self.record.next_event(self.now(), ("insulation",), channel=name, volt=test_voltage_v)
        ohm = self.happened(f"no insulation test of {name} at {test_voltage_v:+g} V", entry).data["ohm"]
        return math.inf if ohm is None else float(ohm)

    def _name(self, number: int) -> str:
        try:
            return self.inputs[number]
        except KeyError:
            known = ", ".join(map(str, self.inputs))
            raise InstrumentError(self.connection.name, f"has no input {number}; here are {known}") from None


class ReplayJournalSource(JournalDriver, Loads):
    """The source of a recorded run: its commands are waited for, and move nothing."""

    kind: ClassVar[str] = "replay journal source"
    settings_model: ClassVar[type[Settings]] = JournalSourceSettings

    _reached: Entry | None = None  # where the load arrives that it was last sent to
    _last = -1  # number of the last command that was waited for

    @property
    def source(self) -> str:
        """Its name in the journal."""
        assert isinstance(self.settings, JournalSourceSettings)
        return self.settings.source

    def problems(self) -> Sequence[tuple[tuple[str | int, ...], str, str]]:
        """A source that the journal does not have."""
        record = self.known()
        if record is None or self.source in record.rig.sources:
            return []
        return [
            (("source",), f"the journal has no source {self.source!r}", did_you_mean(self.source, record.rig.sources))
        ]

    def rise_to(self, target: float, rate_per_s: float) -> None:  # noqa: ARG002  the record has a rate of its own
        """Wait for the moment at which the load was sent to this target."""
        commands = [e for e in self._commands() if "target" in e.data]
        found = next((e for e in commands if math.isclose(e.data["target"], target, rel_tol=SAME)), None)
        sent = self._told(f"no load sent to {show(target, self.record.rig.part.load, 4)}", found)
        self._reached = self.record.next_event(sent.t, ("reached",), source=self.source)
        following = next((e for e in commands if e.n > sent.n), None)
        if self._reached is not None and following is not None and following.n < self._reached.n:
            self._reached = None  # it never arrived: it was told to go elsewhere first

    def settled(self) -> bool:
        """True when no reading of the load lies between now and the moment at which it had arrived."""
        channel = self.record.rig.sources[self.source].channel
        block = self.record.next_block(self.now(), (channel,), 1, 0.0)
        if block is not None and (self._reached is None or block.n < self._reached.n):
            start_s = block.start((channel,))
            if start_s - self.now() <= PATIENCE_S:
                self.until(start_s)  # asking took its time then
            return False
        if self._reached is None:
            return False
        self.until(self._reached.t)
        return True

    def isolate(self, isolated: bool) -> None:
        """Wait for the moment at which the valve was moved."""
        entry = next((e for e in self._commands() if e.data.get("isolate") is isolated), None)
        self._told(f"no {'shutting' if isolated else 'opening'} of the valve of {self.source}", entry)

    def go_safe(self) -> None:
        """Nothing moves; after a trip the time passes to the moment of the record at which its command was out."""
        now = self.now()
        trip = self.record.next_event(now, ("trip",))
        if trip is not None and trip.data.get("read_s") is not None and trip.data["read_s"] <= now + SLACK_S:
            self.until(trip.data["told_s"].get(self.source, now))

    def is_safe(self) -> bool:
        """What the recorded run found when it next made its source safe."""
        entry = self.record.next_event(self.now(), SAFE, source=self.source)
        return entry is not None and entry.data["confirmed"] is True

    def _commands(self) -> list[Entry]:
        """What the source was told from now on, and has not been told here."""
        now, events = self.now() - SLACK_S, self.record.events
        told = (e for e in events if e.kind == "command" and e.data.get("source") == self.source)
        return [e for e in told if e.t >= now and e.n > self._last]

    def _told(self, what: str, entry: Entry | None) -> Entry:
        """Wait for a command of the record."""
        self._last = self.happened(what, entry).n
        assert entry is not None, "else `happened` says what is missing"
        return entry
