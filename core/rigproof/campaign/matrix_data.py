"""A detection matrix as text, for a machine and for a spreadsheet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from .intervals import CONFIDENCE, Share
from .matrix import WANTED, Matrix, Row

CLOSE = "What closes one: a step that looks for it, a higher load, more readings or a tighter limit; then this again."
IDLE = "Without effect here: every number as on the sound rig (its time never came, or the load is too low for it)"


def as_data(matrix: Matrix) -> dict[str, Any]:
    """For a machine; the same campaign gives the same data."""
    return {
        "format": "rigproof: matrix/1",
        "seeds": {"first": matrix.seeds.start, "count": len(matrix.seeds)},
        "confidence": CONFIDENCE,
        "wanted": WANTED,
        "accepted_share": matrix.rows[0].verdicts.accept / len(matrix.seeds),  # of sound rigs
        "rows": [_row(row, matrix) for row in matrix.rows],
        "holes": [row.name for row in matrix.holes],
        "without_effect": [row.name for row in matrix.idle],
        "cannot_have": [{"flaw": flaw, "why": why} for flaw, why in matrix.absent],
    }


def _row(row: Row, matrix: Matrix) -> dict[str, Any]:
    missed = row.missed if row.flaws else None
    return {
        "name": row.name,
        "flaws": list(row.flaws),
        "meaning": row.meaning,
        "verdicts": row.verdicts.counts,
        "found": share_data(row.found),
        "by": {
            check: share_data(row.by(check)) | row.by_finding(check) for check in matrix.checks if row.by(check).count
        },
        "missed_by": missed.command(matrix.rig) if missed else None,
    }


def share_data(share: Share) -> dict[str, float]:
    """A share and its interval."""
    lower, upper = share.interval()
    return {"count": share.count, "of": share.of, "share": share.value, "lower": lower, "upper": upper}


def as_rows(matrix: Matrix) -> list[list[str]]:
    """For a spreadsheet: a line for each flaw and check; `any` for the verdict as a whole.

    The last columns tell how those ended that were caught; accepted ones are told of the verdict alone, since a check
    that did not catch may not have been made.
    """
    rows = [["flaw", "check", "caught", "of", "share", "lower", "upper", "accept", "undecided", "reject", "void"]]
    for row in matrix.rows:
        lines = [("any", row.found, row.verdicts.counts)]
        lines += [(check, row.by(check), row.by_finding(check)) for check in matrix.checks]
        for check, share, counts in lines:
            ends = (str(counts.get(verdict, "")) for verdict in rows[0][-4:])
            rows.append([row.name, check, *map(str, share_data(share).values()), *ends])
    return rows


def as_text(matrix: Matrix) -> str:
    """For people: what was found, by what, the holes, and what the number of seeds can show."""
    if len(matrix.rows) == 1:
        return _sound_text(matrix)
    width = max(len(row.name) for row in matrix.rows)
    lines = [f"{'':{width}}  not accepted (95 % interval)  reject  undecided  void  by"]
    lines += [f"{row.name:{width}}  {row.found!s:29} {_ends(row)}  {_by(row, matrix.checks)}" for row in matrix.rows]
    if sound := _sound_refused(matrix):
        lines += ["", sound]
    n = len(matrix.seeds)
    lines.append(f"\n{_seeds(matrix)}: what is found each time is found in at least "
                 f"{100 * Share(n, n).interval()[0]:.0f} %, so much is sure.")  # fmt: skip
    if not matrix.sound_is_refused:
        lines += _listed("Holes (found in less than 95 %)", [_hole(row, matrix.rig) for row in matrix.holes])
    lines += [f"  {CLOSE}"] if matrix.holes else []
    if matrix.idle:
        lines += _listed(IDLE, [f"{row.name}: {row.meaning}" for row in matrix.idle])
    return "\n".join(lines + _listed("This rig cannot have", [f"{flaw}: {why}" for flaw, why in matrix.absent]))


def _ends(row: Row) -> str:
    """How many runs ended so, under the heads of the table."""
    return f"{row.verdicts.reject:>7}  {row.verdicts.undecided:>9}  {row.verdicts.void:>4}"


def _sound_refused(matrix: Matrix) -> str:
    """What a share beside it is worth where the sound rig is not always accepted; "" where it is."""
    row = matrix.rows[0]
    if not row.found.count:
        return ""
    if matrix.sound_is_refused:
        return f"THE SOUND RIG IS NEVER ACCEPTED ({_why(row)}): no share above says anything; see `rigproof check`."
    return f"The sound rig is not accepted in {row.found} ({_why(row)}): read each share above beside that."


def _why(row: Row) -> str:
    """The reason that stood against it most often."""
    return Counter(result.why for result in row.results if result.verdict != "accept").most_common(1)[0][0]


def _sound_text(matrix: Matrix) -> str:
    """The sound rig alone: how it ended, and which checks stood against it."""
    (row,) = matrix.rows
    n = len(matrix.seeds)
    ends = [f"  {verdict:9}  {Share(count, n)}" for verdict, count in row.verdicts.counts.items()]
    return "\n".join(
        [
            f"{n} sound rig{'s' if n > 1 else ''}, {_seeds(matrix)} (95 % interval):",
            *ends,
            f"  by         {_by(row, matrix.checks)}",
            *([f"  reason     {_why(row)}"] if row.found.count else []),
        ]
    )


def _seeds(matrix: Matrix) -> str:
    n = len(matrix.seeds)
    return f"{n} seed{'s' if n > 1 else ''} from {matrix.seeds.start}"


def _by(row: Row, checks: Sequence[str]) -> str:
    """The checks, the one that caught most first: `balance: drift 75 % (50 % reject, 25 % undecided)`."""
    counted = sorted(((row.by(check), check) for check in checks), key=lambda pair: -pair[0].count)
    return ", ".join(f"{check} {_found(row, check, share)}" for share, check in counted if share.count) or "–"


def _found(row: Row, check: str, share: Share) -> str:
    """In what share a check caught, and as what; a void run is in its own name."""
    ends = {finding: count for finding, count in row.by_finding(check).items() if count}
    each = [
        f"{100 * Share(ends[name], share.of).value:.0f} % {name}" for name in ("reject", "undecided") if name in ends
    ]
    if len(each) == 1:
        return each[0]
    return f"{100 * share.value:.0f} %" + (f" ({', '.join(each)})" if each else "")


def _hole(row: Row, rig: Path) -> str:
    return f"{row.name}: {row.found}. {row.meaning}" + (f"\n    {row.missed.command(rig)}" if row.missed else "")


def _listed(title: str, items: Sequence[str]) -> list[str]:
    return ["", f"{title}:", *(f"  {item}" for item in items)] if items else ["", f"{title}: none."]
