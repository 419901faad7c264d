"""What the person at the bench sees: plain lines, readable in 80 columns, without colour and in a pipe."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import click

from rigproof.quantities import show
from rigproof.verdict import words
from rigproof.verdict.record import Check, Verdict

COLUMNS, WHAT = 80, 33  # of a line, of what was checked

SIMULATED = "SIMULATED RIG: no hardware was touched, nothing here says anything about a real part."

REPLAYED = "REPLAYED RECORD: nothing was measured now, and a part that has changed since is not what it shows."


class Screen:
    """A listener that writes to the terminal; a line that only shows readings is written over by the next one."""

    def __init__(self, simulated: bool, replayed: bool = False) -> None:
        self.looks = sys.stdout.isatty()
        self._pending = False
        for text in _marks(simulated, replayed):
            click.echo(text)

    def step(self, number: int, of: int, kind: str) -> None:
        """A heading."""
        self._line(f"\n{number}/{of} {kind}")

    def say(self, text: str) -> None:
        """A line."""
        self._line(f"    {text}")

    def reading(self, text: str, values: Mapping[str, str]) -> None:
        """One line that the next replaces; in a pipe nobody looks."""
        shown = "  ".join(f"{name} {value}" for name, value in values.items())
        click.echo(f"\r\033[K    {text}  |  {shown}"[:120], nl=False)
        self._pending = True

    def checks(self, checks: Sequence[Check]) -> None:
        """How many checks accept, and every one that does not."""
        against = [check for check in checks if check.finding != "accept"]
        for check in against:
            self._line(f"  {check.finding.upper():9}  {words.title(check)}:")
            value = words.concise(check) if check.measured is not None else words.value(check)
            expected = words.expected(check)
            limits = f"expected {expected}" if expected else f"tolerance {words.interval(check)}"
            self._line(f"             measured {value}, {limits}")
        accepted = len(checks) - len(against)
        self._line(f"  {accepted} of {len(checks)} checks accept" if checks else "  nothing was checked")

    def alarm(self, text: str) -> None:
        """A line nobody can overlook."""
        self._line(f"\n!!! {text}\n")

    def _line(self, text: str) -> None:
        if self._pending:
            click.echo("\r\033[K", nl=False)
            self._pending = False
        click.echo(text)


def print_verdict(verdict: Verdict, folder: Path, whole: bool, notes: Sequence[str] = ()) -> None:
    """The table of checks, what was not shown, `notes` on what to do, and the verdict last."""
    if whole:
        click.echo("")
        click.echo(table(verdict.checks))
        if rules := dict.fromkeys(check.rule for check in verdict.checks if check.rule):
            click.echo(f"rules: {'; '.join(rules)}")
        if verdict.not_shown:
            click.echo("\nnot shown by this run:")
            for aspect in verdict.not_shown:
                click.echo(f"  - {aspect}")
    click.echo("")
    for why in verdict.why[:8]:
        click.echo(f"  {why}")
    if len(verdict.why) > 8:
        click.echo(f"  … and {len(verdict.why) - 8} more in verdict.json")
    if verdict.no_calibration_stated:
        click.echo(f"  no calibration stated: {', '.join(verdict.no_calibration_stated)}")
    for text in (*words.resumptions(verdict), *verdict.clock):
        click.echo(f"  {text}")
    for retried in verdict.retries:
        click.echo(f"  {words.retries(retried)}: failed readings taken again, see the journal")
    for end in verdict.safe_end:
        click.echo(f"  {end.source} {'safe' if end.confirmed else 'NOT CONFIRMED SAFE'}: {end.text}")
    for text in _work(verdict):
        click.echo(f"  {text}")
    click.echo(f"  record: {folder}")
    for text in (*_marks(verdict.simulated, verdict.replayed), *notes):
        click.echo(f"  {text}")
    marked = ", ".join(word for word in ("simulated", "replayed") if getattr(verdict, word))
    click.echo(f"\nverdict: {verdict.verdict}{f' ({marked})' if marked else ''}")


def _work(verdict: Verdict) -> list[str]:
    """What people did, what was not as asked, what they signed, and who they were."""
    done = [words.work(of, lines) for of, lines in words.works(verdict.installation)]
    against = [f"DEVIATION {text}" for text in words.deviations(verdict.installation)]
    signed = [f"signed: {text}" for text in verdict.signatures]
    return [*done, *against, *signed, *(f"worked by hand: {person.name}, {person.how}" for person in verdict.people)]


def _marks(simulated: bool, replayed: bool) -> list[str]:
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
