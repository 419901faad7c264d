"""The journal of a run: one JSON Lines file, only ever added to, each line chained to the one before by SHA-256.

The chain shows accident and later change, and their place. It is no signature: who can rewrite the whole file can
rewrite the chain, so a verdict names the file's SHA-256.
"""

from rigproof.journal.entry import BROKEN_OFF, FORMAT, RESUMED, Entry
from rigproof.journal.keeps import Keeps
from rigproof.journal.reader import Journal, read_bytes, read_journal, verify
from rigproof.journal.writer import JournalWriter

__all__ = [
    "BROKEN_OFF",
    "FORMAT",
    "RESUMED",
    "Entry",
    "Journal",
    "JournalWriter",
    "Keeps",
    "read_bytes",
    "read_journal",
    "verify",
]
