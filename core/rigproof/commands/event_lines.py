"""A run as events for a program: one JSON object a line, each written when it happens; see `rigproof.run.events`."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path

from pydantic import BaseModel

from rigproof.quantities import kind_of
from rigproof.run import events
from rigproof.run.opening import Reach
from rigproof.run.plan import Plan
from rigproof.run.progress import Reading, just_read
from rigproof.verdict.record import Check, Verdict

from .arguments import EXIT_CODES
from .cadence import Cadence
from .outlet import Outlet, printable

PATIENCE_S = 1.0  # with a person's terminal that takes nothing, at the end
PER_S, AT_ONCE = 2.0, 2  # looks: never more than four in a second


class EventLines:
    """A listener."""

    def __init__(self, outlet: Outlet) -> None:
        self._outlet = outlet
        self._person = Outlet(sys.stderr)
        self._looks, self._falls = Cadence(PER_S, AT_ONCE), Cadence(PER_S, AT_ONCE)
        self._stage, self._new = "", False

    @property
    def looks(self) -> bool:
        """One in each stage, further ones at a bounded rate, all only while the reader keeps up."""
        return (self._new or self._looks.ready) and self._outlet.clear

    def begun(self, plan: Plan, reach: Reach, folder: Path) -> None:
        """The first line."""
        self._write(
            events.RunBegun(
                rig=plan.rig.name,
                procedure=plan.procedure.name,
                simulated=reach.simulated,
                replayed=reach.replayed,
                part_serial_number=plan.rig.part.serial_number or "",
                part_drawing=plan.rig.part.drawing or "",
                site=plan.rig.site,
                operator=reach.operator,
                record=str(folder),
                steps=tuple(step.kind for step in plan.procedure.steps),
                cautions=plan.cautions,
            )
        )

    def step(self, number: int, of: int, kind: str) -> None:
        """A line."""
        self._stage = ""
        self._write(events.StepBegun(step=number, of=of, step_kind=kind))

    def say(self, text: str) -> None:
        """A line."""
        self._stage = ""
        self._write(events.Remark(text=text))

    def waiting(self, text: str, left_s: float, now_s: float) -> None:
        """A line where it begins."""
        if text != self._stage:
            self._stage, self._new = text, True
            self._write(events.Stage(text=text, at_s=now_s, left_s=left_s))

    def reading(self, text: str, values: Mapping[str, Reading]) -> None:
        """A line."""
        self._new = False
        self._looks.take()
        self._write(
            events.Look(text=text, channels=tuple(_look(name, each) for name, each in just_read(values).items()))
        )

    def checks(self, checks: Sequence[Check]) -> None:
        """A line for the step."""
        self._write(events.ChecksJudged(checks=tuple(map(_judged, checks))))

    def alarm(self, text: str) -> None:
        """A line, and one for the person who started the program."""
        try:
            self._write(events.Alarm(text=text))
        finally:
            self._person.write(f"!!! {printable(text)}\n")

    def lowering(self, source: str, load: Reading | None, text: str) -> None:
        """A line, at a bounded rate."""
        if self._falls.ready and self._outlet.clear:
            self._falls.take()
            value, unit = (load.value, kind_of(load.kind).base) if load else (None, "")
            self._write(events.Lowering(source=source, load=value, unit=unit, text=text))

    def safe(self, source: str, load: Reading | None, text: str) -> None:  # noqa: ARG002  it is in the text
        """A line."""
        self._write(events.SourceSafe(source=source, text=text))

    def aside(self) -> AbstractContextManager[None]:
        """Questions go to standard error, and stand in no way."""
        return nullcontext()

    def verdict(self, verdict: Verdict, folder: Path, notes: Sequence[str]) -> None:  # noqa: ARG002  for people
        """The last line."""
        self._write(events.VerdictGiven(exit_code=EXIT_CODES[verdict.verdict], verdict=verdict))

    def close(self) -> None:
        """Wait until the reader has it all."""
        try:
            self._outlet.finish()
            self._person.finish(PATIENCE_S)
        finally:
            self._outlet.close()
            self._person.close()

    def _write(self, event: BaseModel) -> None:
        self._outlet.write(f"{event.model_dump_json()}\n")


def _look(name: str, reading: Reading) -> events.ChannelLook:
    return events.ChannelLook(
        channel=name,
        value=reading.value,
        unit=kind_of(reading.kind).base,
        shown=reading.shown,
        at_s=reading.at_s,
        expected=reading.expected,
        U=reading.U,
        target=reading.target,
    )


def _judged(check: Check) -> events.Judged:
    return events.Judged(
        step=check.step,
        step_kind=check.step_kind,
        name=check.name,
        subject=check.subject,
        at=check.at,
        finding=check.finding,
        measured=check.measured,
        u=check.u,
        unit=kind_of(check.kind).base,
    )
