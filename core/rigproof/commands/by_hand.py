"""Choosing who answers where a rig has instruments that are read by hand."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TextIO

import click

from rigproof.documents import Rig
from rigproof.errors import UsageError
from rigproof.people import Answers


def answers_for(rig: Rig, person: str | None, file: Path | None, screen: TextIO) -> Answers | None:
    """Who answers for a rig; None where it asks nobody.

    Raises `UsageError` where somebody is needed and there is neither a terminal nor a file, and where somebody is
    named for a rig that asks nobody.
    """
    asking = [i.name for i in rig.instruments.values() if i.driver.asks_a_person]
    if not asking:
        if person or file:
            raise UsageError(
                f"--{'person' if person else 'answers'}: no instrument of this rig is read by hand; leave it out"
            )
        return None
    if file is not None:
        from .scripted import Scripted

        return Scripted(file, lambda text: click.echo(text, file=screen))
    from .terminal import Terminal, checked_name

    name = checked_name(person) if person is not None else ""
    if sys.stdin is None or not sys.stdin.isatty():
        raise UsageError(
            f"{', '.join(asking)}: a person works this by hand, and there is no terminal to ask in; start the run in a "
            "terminal, give --answers FILE, or --simulated"
        )
    return Terminal(sys.stdin.fileno(), screen, name)
