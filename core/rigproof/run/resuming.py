"""Going on with a run that was cut off or suspended: what its record holds, and whether it may be gone on with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from rigproof.documents.rig import Rig
from rigproof.errors import JournalError, Tripped, UsageError
from rigproof.instruments import Reads
from rigproof.interlocks import locks_of
from rigproof.journal import RESUMED, Entry, JournalWriter, read_journal
from rigproof.models import BridgeModel
from rigproof.quantities import show
from rigproof.steps.tasks import WORK
from rigproof.verdict.record import TwinRecord
from rigproof.verdict.sessions import FINISHED, SUSPENDED, Takings, ending, last_session, takings, told

from .interlocks import Interlocks
from .live import LiveRig
from .plan import Plan
from .progress import Progress


@dataclass(frozen=True)
class Earlier:
    """What a journal holds of a run that did not come to its end."""

    entries: tuple[Entry, ...]
    torn: bool  # the last line was cut off, and dropped

    @property
    def head(self) -> Mapping[str, Any]:
        """The run's first entry."""
        return self.entries[0].data

    @cached_property
    def end(self) -> dict[str, Any] | None:
        """How it ended; None where it was killed."""
        return ending(last_session(self.entries))

    @property
    def twin(self) -> TwinRecord | None:
        """What was simulated in the process of the run."""
        return TwinRecord(**self.head["twin"]) if self.head["twin"] else None

    @property
    def not_before(self) -> datetime | None:
        """Until when it is suspended."""
        suspended = self.end is not None and self.end["how"] == SUSPENDED
        return datetime.fromisoformat(self.end["not_before"]) if self.end and suspended else None

    @property
    def ends(self) -> datetime:
        """Date and time of the last entry: of the last one that is dated, and the seconds since."""
        dated = next(e for e in reversed(self.entries) if e.kind in ("run", RESUMED, "end"))
        return datetime.fromisoformat(dated.data["utc"]) + timedelta(seconds=self.entries[-1].t - dated.t)

    @property
    def behind_s(self) -> float:
        """Time of the rig that has gone by since the run began, the pause of a suspended run with it."""
        until = max(filter(None, (self.ends, self.not_before)))
        return (until - datetime.fromisoformat(self.head["utc"])).total_seconds()

    @property
    def zeros(self) -> dict[str, float]:
        """The last zero of each channel from which interlocks counted, raw."""
        return {name: raw for e in self.entries if e.kind == "zero" for name, raw in e.data["readings"].items()}

    @property
    def works(self) -> list[dict[str, Any]]:
        """What people did, as steps noted it."""
        return [entry.data for entry in self.entries if entry.kind == WORK]

    def takings(self, number: int, kind: str) -> Takings:
        """What a step wrote."""
        return takings(number, kind, self.entries)

    def expect_due(self, now: datetime) -> None:
        """Raise `UsageError` where the run is suspended until later than `now`."""
        if self.not_before is not None and now < self.not_before:
            raise UsageError(f"the run is {told(self.end)}; it is {now:%Y-%m-%d %H:%M:%S} UTC. Go on with it then")

    def begin(self, plan: Plan, utc: datetime, journal: JournalWriter, progress: Progress, operator: str = "") -> None:
        """The first entry of the new session."""
        plugins = [
            {"name": info.name, "distribution": info.distribution, "version": info.version}
            for info in plan.registry.sources.values()
        ]
        journal.write(
            RESUMED,
            utc=utc.isoformat(),
            after=told(self.end),
            torn=self.torn,
            operator=operator,
            plugins=plugins,
        )
        progress.say(f"resumed after: {told(self.end)}")
        if self.twin and self.twin.flaws:
            progress.say(f"simulated as before, so this is planted still: {', '.join(self.twin.flaws)}")
        if self.torn:
            progress.say("the last line of the record was cut off: it was dropped, and lies in journal.jsonl.torn")


def take_up(folder: Path, plan: Plan, simulated: bool, bench: bool) -> Earlier:
    """The record in `folder`, for a run that is to go on with it on the same kind of rig.

    Raises `JournalError` where its chain does not hold, `UsageError` where there is nothing to go on with, or where the
    documents or the rig are others than those of the record.
    """
    path = folder / "journal.jsonl"
    if not path.exists():
        raise UsageError(f"--resume: {path} is not there, so there is no run to go on with; leave --resume out")
    journal = read_journal(path)
    if not journal.entries:
        raise UsageError(f"--resume: {path} holds nothing yet, so nothing is lost; remove {folder} and begin anew")
    if journal.entries[0].kind != "run":
        raise JournalError(f"{path}: does not begin with a run; give the folder that `rigproof run` wrote")
    earlier = Earlier(journal.entries, journal.torn)
    try:
        _expect_same(earlier, plan, folder, simulated, bench)
    except (KeyError, TypeError, ValueError) as error:
        raise JournalError(f"{path}: is not as a run writes it ({type(error).__name__}: {error})") from None
    return earlier


def _expect_same(earlier: Earlier, plan: Plan, folder: Path, simulated: bool, bench: bool) -> None:
    head = earlier.head
    if earlier.end is not None and earlier.end["how"] == FINISHED:
        raise UsageError(
            f"--resume: the run in {folder} went to its end, so nothing is left to do (`rigproof judge {folder} --out "
            f"{folder}` makes its verdict again); begin a new one in another folder"
        )
    for document, now in (("rig", plan.rig), ("procedure", plan.procedure)):
        if head[document]["text"] != now.text:
            raise UsageError(
                f"--resume: {now.file} is not the one that the run in {folder} began with, and half a run by each "
                "proves nothing; put the old one back (its text is in the first line of the journal), or begin a new "
                "run in another folder"
            )
    if head["replayed"]:
        raise UsageError("--resume: a replayed run needs no resuming; replay the record again into another folder")
    kinds = {"--simulated": earlier.twin is not None, "--bench": head["simulated"] and earlier.twin is None}
    for option, asked in (("--simulated", simulated), ("--bench", bench)):
        if kinds[option] != asked:
            began = f"with {option}: add it" if kinds[option] else f"without {option}: leave it out"
            raise UsageError(f"--resume: the run in {folder} was begun {began}")


def rearm(live: LiveRig, earlier: Earlier, journal: JournalWriter, progress: Progress) -> None:
    """Before the first load of a resumed session: give the strain interlocks a zero, and say how far it has moved.

    A zero of the earlier session would be a reading that this session never took: the amplifier was switched off, or
    the part was loaded and let down in a way nobody saw. So every interlock counts strain from a zero taken now,
    without load. What a cut-off load left behind would vanish in it; therefore the difference is told, and where it
    passes the interlock's own limit no load is put on: `Tripped`.
    """
    names = _watched_bridges(live.rig)
    if not names:
        return
    before = earlier.zeros
    now = live.read("zero after resuming", names, count=READINGS, interval_s=INTERVAL_S)
    live.take_zero(names)
    since = Interlocks(live.rig)
    moved: dict[str, float] = {}
    for name in (name for name in names if name in before):
        since.zero(name, before[name])
        strain = since.quantity(name, now[name])
        if strain is not None and np.isfinite(strain).all():
            moved[name] = float(np.mean(strain))
            progress.say(f"{name} rests at {show(moved[name], 'strain', 3)} against the zero before the run ended")
    journal.write("zero moved", strain=moved)
    try:
        since.check({name: now[name] for name in moved}, under_load=False)
    except Tripped as trip:
        raise Tripped(f"{trip}: so far from the zero before the run ended, without load; find out why") from None


READINGS, INTERVAL_S = 10, 0.02  # a mean over 0.2 s: ten periods of 50 Hz mains


def _watched_bridges(rig: Rig) -> list[str]:
    """Strain channels with an interlock that no person has to read."""
    found = dict.fromkeys(lock.channel for lock in locks_of(rig))
    return [
        name
        for name in found
        if isinstance(rig.channels[name].reduction, BridgeModel)
        and issubclass(driver := rig.instruments[rig.channels[name].instrument].driver, Reads)
        and driver.watchable
    ]
