"""A verdict and its checks for people: plain lines, readable in 80 columns, without colour and in a pipe."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from rigproof.quantities import show
from rigproof.verdict import words
from rigproof.verdict.record import Check, Verdict

COLUMNS, WHAT = 80, 33  # of a line, of what was checked

SIMULATED = "SIMULATED RIG: no hardware was touched, nothing here says anything about a real part."

REPLAYED = "REPLAYED RECORD: nothing was measured now, and a part that has changed since is not what it shows."


def check_lines(checks: Sequence[Check]) -> list[str]:
    """How many checks accept, and every one that does not."""
    against = [check for check in checks if check.finding != "accept"]
    lines = []
    for check in against:
        value = words.concise(check) if check.measured is not None else words.value(check)
        expected = words.expected(check)
        limits = f"expected {expected}" if expected else f"tolerance {words.interval(check)}"
        lines += [f"  {check.finding.upper():9}  {words.title(check)}:", f"             measured {value}, {limits}"]
    accepted = len(checks) - len(against)
    return [*lines, f"  {accepted} of {len(checks)} checks accept" if checks else "  nothing was checked"]


def print_verdict(verdict: Verdict, folder: Path) -> None:
    """As `verdict_lines`."""
    for line in verdict_lines(verdict, folder):
        click.echo(line)


def verdict_lines(verdict: Verdict, folder: Path, notes: Sequence[str] = ()) -> list[str]:
    """The table of checks, what was not shown, `notes` on what to do, and the verdict last."""
    rules = dict.fromkeys(check.rule for check in verdict.checks if check.rule)
    why = [f"  {text}" for text in verdict.why[:8]]
    why += [f"  … and {len(verdict.why) - 8} more in verdict.json"] if len(verdict.why) > 8 else []
    return [
        "",
        *table(verdict.checks).split("\n"),
        *([f"rules: {'; '.join(rules)}"] if rules else []),
        *(["", "not shown by this run:"] if verdict.not_shown else []),
        *(f"  - {aspect}" for aspect in verdict.not_shown),
        "",
        *why,
        *(f"  {text}" for text in _of_the_run(verdict)),
        f"  record: {folder}",
        *(f"  {text}" for text in (*marks(verdict.simulated, verdict.replayed), *notes)),
        "",
        verdict_line(verdict),
    ]


def _of_the_run(verdict: Verdict) -> Iterator[str]:
    """What is to be known of instruments, sources and people."""
    if verdict.no_calibration_stated:
        yield f"no calibration stated: {', '.join(verdict.no_calibration_stated)}"
    yield from words.resumptions(verdict)
    yield from verdict.clock
    for retried in verdict.retries:
        yield f"{words.retries(retried)}: failed readings taken again, see the journal"
    for end in verdict.safe_end:
        yield f"{end.source} {'safe' if end.confirmed else 'NOT CONFIRMED SAFE'}: {end.text}"
    yield from _work(verdict)


def verdict_line(verdict: Verdict) -> str:
    """`verdict: accept (simulated)`."""
    marked = ", ".join(word for word in ("simulated", "replayed") if getattr(verdict, word))
    return f"verdict: {verdict.verdict}{f' ({marked})' if marked else ''}"


def _work(verdict: Verdict) -> list[str]:
    """What people did, what was not as asked, what they signed, and who they were."""
    done = [words.work(of, lines) for of, lines in words.works(verdict.installation)]
    against = [f"DEVIATION {text}" for text in words.deviations(verdict.installation)]
    signed = [f"signed: {text}" for text in verdict.signatures]
    return [*done, *against, *signed, *(f"worked by hand: {person.name}, {person.how}" for person in verdict.people)]


def marks(simulated: bool, replayed: bool) -> list[str]:
    """What must stand on every output of a run that was no live one."""
    return [text for text, is_so in ((SIMULATED, simulated), (REPLAYED, replayed)) if is_so]


def table(checks: Sequence[Check]) -> str:
    """One row per check under its step; values with their standard uncertainty in brackets (GUM 7.2.2)."""
    rows = [("", "check", "measured", "limits, expected ± U")]
    for check in checks:
        finding = check.finding if check.finding == "accept" else check.finding.upper()
        rows.append((finding, _what(check), words.concise(check), words.expected(check) or words.interval(check)))
    widths = [max(len(row[i]) for row in rows) for i in range(3)]
    widths[1] = min(widths[1], WHAT)
    lines, step = [_row(rows[0], widths)], 0
    for check, row in zip(checks, rows[1:], strict=True):
        if check.step != step:
            step = check.step
            lines.append(f"{step} {check.step_kind}")
        lines.append(_row(row, widths))
    return "\n".join(lines)


def _what(check: Check) -> str:
    """What was checked, of what, and where as far as there is room; a shunt reading with the strain it stands for."""
    said = f"{check.name}, {check.subject}"
    where = check.at.partition(",")[0]
    if check.equivalent_strain is not None:
        where = show(check.equivalent_strain, "strain", 4)
    return f"{said}, {where}" if where and len(said) + len(where) + 2 <= WHAT else said


def _row(cells: Sequence[str], widths: Sequence[int]) -> str:
    """One line; where it would be too long the numbers stand below the name."""
    finding, what, measured, limits = cells
    head = f"{finding.ljust(widths[0])} {what}"
    tail = f"{measured.ljust(widths[2])} {limits}".rstrip()
    beside = f"{head.ljust(widths[0] + 1 + widths[1])} {tail}"
    return beside if len(what) <= widths[1] and len(beside) <= COLUMNS else f"{head}\n{tail.rjust(COLUMNS)}"
