"""The table of FLAWS.md, as the tests read it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from rigproof.campaign.trial import Result

PAGE = Path(__file__).parents[3] / "plugins" / "rigproof_twin" / "FLAWS.md"


@dataclass(frozen=True)
class Row:
    """One flaw. `finder` is `check`, `void` or `nothing`; of a check there may be several steps, names and subjects."""

    name: str
    size: str
    quantity: str
    model: str
    source: str
    rig: str
    finder: str
    found_by: tuple[tuple[str, ...], ...]  # steps, names, subjects of checks; else the one text
    written: str

    def finds(self, result: Result) -> bool:
        """True where the trial ended as the table says."""
        if self.finder != "check":
            return self.finder == result.verdict == "void" and self.found_by[0][0] in result.why
        steps, names, subjects = self.found_by
        return any(c.kind in steps and c.name in names and c.subject in subjects for c in result.caught)


def rows() -> list[Row]:
    """All rows of the page, in its order."""
    lines = [line for line in PAGE.read_text("utf-8").splitlines() if line.startswith("| ")]
    return [_row([cell.strip() for cell in line.strip("|").split("|")]) for line in lines[1:]]


def _row(cells: list[str]) -> Row:
    name, size, quantity, model, source, found = cells
    rig, _, where = found.rpartition(": ") if found.startswith("rigs/") else ("rigs/spool", "", found)
    if kind := re.match(r"(void|nothing)\b[,:] ", where):
        return Row(name, size, quantity, model, source, rig, kind[1], ((where[kind.end() :],),), where)
    parts = tuple(tuple(part.strip("` ") for part in cell.split(" or ")) for cell in where.split(", "))
    assert len(parts) == 3, f"{name}: {where!r} is no step, check, subject"
    return Row(name, size, quantity, model, source, rig, "check", parts, where)
