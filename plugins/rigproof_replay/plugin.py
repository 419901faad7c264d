"""The door: what this plugin supplies."""

from __future__ import annotations

from rigproof.hookspecs import hookimpl
from rigproof.instruments import Driver

from .journal import ReplayJournal, ReplayJournalSource
from .replay import Replay
from .source import ReplaySource

RIGPROOF_DOOR = 1


@hookimpl
def rigproof_drivers() -> list[type[Driver]]:
    """Recorded tables and journals of ours, each as an instrument and as a source."""
    return [Replay, ReplaySource, ReplayJournal, ReplayJournalSource]
