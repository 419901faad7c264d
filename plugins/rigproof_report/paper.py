"""What stands in the margin of every printed page: that it is simulated, of which run it is, which page of how many.

Page-margin boxes of CSS (CSS Paged Media, Level 3, 5); a browser that does not know them prints the page's title, which
has the same words, where it prints headers at all.
"""

from __future__ import annotations

from rigproof.verdict.record import Verdict


def marks(verdict: Verdict) -> str:
    """`SIMULATED`, `REPLAYED`, both, or nothing."""
    said = [word for word, is_so in (("SIMULATED", verdict.simulated), ("REPLAYED", verdict.replayed)) if is_so]
    return ", ".join(said)


def margins(verdict: Verdict, run: str, doubt: bool) -> dict[str, str]:
    """By margin box its text as a string of CSS; a page about a record in doubt shows nothing of the verdict."""
    outcome = "record does not hold" if doubt else verdict.verdict
    texts = {
        "top-left": marks(verdict),
        "top-right": f"{verdict.rig.name}: {outcome}",
        "bottom-left": f"run {run}, journal SHA-256 {verdict.journal.sha256[:12]}…",
    }
    return {box: _string(text) for box, text in texts.items()}


def _string(text: str) -> str:
    """A string of CSS in which nothing but letters and digits stands as itself (CSS Syntax, Level 3, 4.3.7)."""
    return '"' + "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in text) + '"'
