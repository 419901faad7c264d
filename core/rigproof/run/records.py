"""The records that replayed instruments read: all of them checked before a run, with all their faults at once."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

from rigproof.clock import JumpingClock
from rigproof.documents import fault_in
from rigproof.documents.rig import Rig
from rigproof.errors import DocumentError, Fault, UsageError
from rigproof.replaying import Recorded, Replays

from .opening import Reach, make_driver

ZEROS_AGREE_WITHIN_S = 1.0  # two records whose zeros lie further apart would be read at different times of the test


def replayed(rig: Rig) -> tuple[str, ...]:
    """The instruments of a rig that read a record."""
    return tuple(i.name for i in rig.instruments.values() if issubclass(i.driver, Replays))


def read_records(rig: Rig) -> dict[str, Recorded]:
    """What each record says of itself, by instrument. Raises `DocumentError` with every fault of all records."""
    found: dict[str, Recorded] = {}
    faults: list[Fault] = []
    for name in replayed(rig):
        driver = make_driver(rig, rig.instruments[name], Reach(clock=JumpingClock()))
        assert isinstance(driver, Replays)
        problems = driver.problems()
        faults += [fault_in(rig, ("instruments", name, "settings", *keys), *said) for keys, *said in problems]
        try:
            found[name] = driver.read_record()
        except DocumentError as error:
            faults += error.faults
    if faults:
        raise DocumentError(list(dict.fromkeys(faults)))  # several instruments may read one record
    return found


def replay_reach(rig: Rig) -> Reach:
    """How the instruments of a rig are reached that is replayed whole, on a clock that begins where the records do.

    Raises `UsageError` where an instrument is a live one or the records begin at different times.
    """
    if live := read_live(rig):
        raise UsageError(
            f"--replayed: {', '.join(live)} would be read live, while the time of a replayed run jumps; "
            "give each of them a `replay` driver"
        )
    records = read_records(rig)
    starts = _starts({name: record.began for name, record in records.items() if record.began is not None})
    return Reach(clock=JumpingClock(starts), simulated=any(r.simulated for r in records.values()), replayed=True)


def read_live(rig: Rig) -> list[str]:
    """The instruments of a rig that read no record."""
    return [name for name in rig.instruments if name not in replayed(rig)]


def neither_live_nor_replayed(rig: Rig) -> list[str]:
    """One sentence where some instruments read a record and others do not: every run refuses such a rig."""
    records, live = replayed(rig), read_live(rig)
    if not records or not live:
        return []
    return [
        f"{', '.join(records)} would be read from a record and {', '.join(live)} live, and no run does both: a live "
        "one reads no record, and the time of a replayed one jumps; give all of them a `replay` driver, or none"
    ]


def refuse_records(rig: Rig) -> None:
    """Raises `UsageError` where a run that is not replayed would read a record."""
    if names := replayed(rig):
        raise UsageError(
            f"{', '.join(names)}: reads a record, and a live or simulated run reads none; use --replayed, "
            "with all instruments of the rig read from records"
        )


def _starts(began: Mapping[str, datetime]) -> datetime:
    """Where the records begin; now, where none of them tells."""
    if not began:
        return datetime.now(UTC)
    first, last = min(began, key=began.__getitem__), max(began, key=began.__getitem__)
    if (apart := (began[last] - began[first]).total_seconds()) > ZEROS_AGREE_WITHIN_S:
        raise UsageError(
            f"the records of {first} and {last} begin {apart:g} s apart ({began[first].isoformat()} and "
            f"{began[last].isoformat()}), and would be read at different times of one test; write `starts at:`"
        )
    return began[first]
