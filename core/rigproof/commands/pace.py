"""How far a campaign is: one line on standard error, with the time left."""

from __future__ import annotations

import sys
import time

import click

_ON_A_TERMINAL_S, _IN_A_FILE_S = 0.2, 30.0  # how often it is told


class Pace:
    """A `rigproof.campaign.engine.Progress`; says nothing when `quiet`."""

    def __init__(self, quiet: bool) -> None:
        self._quiet = quiet
        self._terminal = sys.stderr.isatty()
        self._said_s = self._start_s = time.monotonic()
        self.a_second: float | None = None  # runs that were taken now, not found in the file
        self._taken = 0
        self._open = False  # the cursor stands at the end of a line that will be written over

    def taken(self, done: int, of: int, left_s: float) -> None:
        """Count it; show it, not too often."""
        now = time.monotonic()
        self._taken += 1
        self.a_second = self._taken / (now - self._start_s)
        if self._quiet or now - self._said_s < (_ON_A_TERMINAL_S if self._terminal else _IN_A_FILE_S):
            return
        self._said_s = now
        line = f"{done} of {of} runs, {_spoken(left_s)} left"
        click.echo(f"\r{line:60}" if self._terminal else line, err=True, nl=not self._terminal)
        self._open = self._terminal

    def say(self, text: str) -> None:
        """A line of its own."""
        self.end()
        if not self._quiet:
            click.echo(text, err=True)

    def end(self) -> None:
        """Leave the line that is written over."""
        if self._open:
            click.echo(err=True)
            self._open = False


def _spoken(seconds: float) -> str:
    """12 s, 5 min, 2.5 h."""
    if seconds < 100:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 6000 else f"{seconds / 3600:.1f} h"
