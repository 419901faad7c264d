"""What the person at the bench sees: plain lines, readable in 80 columns, without colour and in a pipe."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import click

from rigproof.verdict import words
from rigproof.verdict.record import Check, Verdict

SIMULATED = "SIMULATED RIG: no hardware was touched, nothing here says anything about a real part."


class Screen:
    """A listener that writes to the terminal; a line that only shows readings is written over by the next one."""

    def __init__(self, simulated: bool) -> None:
        self.looks = sys.stdout.isatty()
        self._pending = False
        if simulated:
            click.echo(SIMULATED)

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
        """What the step's checks found."""
        for check in checks:
            u = f", u {words.uncertainty(check)}" if check.measured is not None else ""
            self._line(f"  {check.finding:9} {words.title(check)}: {words.value(check)}{u}")

    def alarm(self, text: str) -> None:
        """A line nobody can overlook."""
        self._line(f"\n!!! {text}\n")

    def _line(self, text: str) -> None:
        if self._pending:
            click.echo("\r\033[K", nl=False)
            self._pending = False
        click.echo(text)


def print_verdict(verdict: Verdict, folder: Path, whole: bool) -> None:
    """The table of checks, what was not shown, and the verdict last."""
    if whole:
        click.echo("")
        click.echo(table(verdict.checks))
        if verdict.not_shown:
            click.echo("\nnot shown by this run:")
            for aspect in verdict.not_shown:
                click.echo(f"  - {aspect}")
    click.echo("")
    for why in verdict.why[:8]:
        click.echo(f"  {why}")
    if len(verdict.why) > 8:
        click.echo(f"  … and {len(verdict.why) - 8} more in verdict.json")
    for end in verdict.safe_end:
        click.echo(f"  {end.source} {'safe' if end.confirmed else 'NOT CONFIRMED SAFE'}: {end.text}")
    click.echo(f"  record: {folder}")
    if verdict.simulated:
        click.echo(f"  {SIMULATED}")
    click.echo(f"\nverdict: {verdict.verdict}{' (simulated)' if verdict.simulated else ''}")


HEADINGS = ("check", "of", "measured", "u", "tolerance", "finding")


def table(checks: Sequence[Check]) -> str:
    """One row per check."""
    rows = [HEADINGS]
    for check in checks:
        of = f"{check.subject}, {check.at}" if check.at else check.subject
        cells = (words.value(check), words.uncertainty(check), words.interval(check))
        rows.append((f"{check.step_kind}: {check.name}", of, *cells, check.finding))
    widths = [max(len(row[i]) for row in rows) for i in range(len(HEADINGS))]
    lines = ("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows)
    return "\n".join(line.rstrip() for line in lines)
