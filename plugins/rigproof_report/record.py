"""The journal beside a verdict, read once for all that is drawn, and whether it can be believed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rigproof.documents import Rig, load_rig
from rigproof.errors import RigproofError
from rigproof.journal import Entry, read_journal
from rigproof.plugins import load_registry
from rigproof.verdict.record import Verdict


@dataclass(frozen=True)
class RunRecord:
    """What a page may show of a run."""

    entries: tuple[Entry, ...] = ()
    rig: Rig | None = None
    doubt: str = ""  # why the verdict must not be believed; "" where the journal holds and is the verdict's
    trouble: str = ""  # why nothing can be drawn

    @property
    def head(self) -> dict[str, Any]:
        """The first entry of the journal: what the run was begun with."""
        return self.entries[0].data if self.entries else {}

    @property
    def procedure_file(self) -> str:
        """The name of the procedure's file: acceptance.yaml unless another one was chosen."""
        return Path(self.head["procedure"]["file"]).name


def read_record(verdict: Verdict, journal: Path) -> RunRecord:
    """The record of a run. Without a journal that holds, and that the verdict was made from, it is in doubt."""
    try:
        read = read_journal(journal)
    except RigproofError as error:
        return RunRecord(doubt=str(error))
    if read.sha256 != verdict.journal.sha256:
        return RunRecord(
            doubt=f"{journal.name} has SHA-256 {read.sha256}; the verdict was made from another one, "
            f"{verdict.journal.sha256}"
        )
    try:
        rig = read.entries[0].data["rig"]
        return RunRecord(read.entries, load_rig(text=rig["text"], name=rig["file"], registry=load_registry()))
    except RigproofError as error:
        return RunRecord(read.entries, trouble=str(error))
