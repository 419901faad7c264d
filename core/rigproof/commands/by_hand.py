"""Choosing who answers where a rig has instruments that are read by hand, or a procedure steps that ask a person."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TextIO

import click

from rigproof.errors import UsageError
from rigproof.people import Answers, Question, checked_name
from rigproof.run.opening import Reach
from rigproof.run.plan import Plan


class StepsFromFile:
    """The `rigproof.people.Answers` of a simulated run with a file: it answers the steps, the simulation the rest."""

    def __init__(self, file: Answers, simulated: Answers) -> None:
        self._file = file
        self._simulated = simulated
        self.name = file.name
        self.how = f"{file.how}; at the instruments {simulated.how}"

    def answer(self, question: Question, check: Callable[[], None]) -> str:
        """By whom it is meant for."""
        return (self._simulated if question.sound is None else self._file).answer(question, check)

    def tell(self, text: str) -> None:
        """Whoever works the instruments."""
        self._simulated.tell(text)


def answers_for(plan: Plan, person: str | None, file: Path | None, screen: TextIO) -> Answers | None:
    """Who answers in a run; None where nobody is asked.

    Raises `UsageError` where somebody is needed and there is neither a terminal nor a file, and where somebody is
    named for a run that asks nobody.
    """
    asking = plan.asking()
    if not asking:
        if person or file:
            raise UsageError(
                f"--{'person' if person else 'answers'}: no instrument of this rig is read by hand, and no step asks "
                "a person; leave it out"
            )
        return None
    if file is not None:
        from .scripted import Scripted

        return Scripted(file, lambda text: click.echo(text, file=screen))
    from .terminal import Terminal

    name = checked_name(person) if person is not None else ""
    if sys.stdin is None or not sys.stdin.isatty():
        raise UsageError(
            f"{', '.join(asking)}: a person works this by hand, and there is no terminal to ask in; start the run in a "
            "terminal, give --answers FILE, or --simulated"
        )
    return Terminal(sys.stdin.fileno(), screen, name)


def answered(reach: Reach, by_hand: Answers | None) -> Reach:
    """The reach with whom the command chose; a file of answers lets time pass on the clock of the rig."""
    if by_hand is None:
        return reach
    from .scripted import Scripted

    if isinstance(by_hand, Scripted):
        by_hand.clock = reach.clock
        reach = replace(reach, unasked=by_hand.unasked)
    return replace(reach, answers=by_hand if reach.answers is None else StepsFromFile(by_hand, reach.answers))
