"""An outside plugin for rigproof: the step kind `rest` and the report writer `notice`.

It stands for what a stranger may write: one module, one entry point, nothing of rigproof's changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import Field

from rigproof.hookspecs import hookimpl
from rigproof.quantities import Quantity, Within, quantity, show, within
from rigproof.reports import ReportWriter
from rigproof.steps import base
from rigproof.steps.checks import Subject, no_reading, specified_check
from rigproof.steps.strains import strain_between
from rigproof.steps.terms import usable

if TYPE_CHECKING:
    from rigproof.documents.rig import Rig
    from rigproof.run.live import LiveRig
    from rigproof.steps.record import Block, StepRecord
    from rigproof.uncertainty import Rule
    from rigproof.verdict.record import Check, Verdict

RIGPROOF_DOOR = 1

LOOK_EVERY_S = 60.0
READINGS, INTERVAL_S = 50, 0.02  # one second: whole periods of 50 Hz and of 60 Hz mains


@hookimpl
def rigproof_step_kinds() -> list[type[base.Step]]:
    """One step kind."""
    return [Rest]


@hookimpl
def rigproof_report_writers() -> list[ReportWriter]:
    """One report writer."""
    return [Notice()]


class Rest(base.Step):
    """Strain of each channel over some minutes without load: whatever moves then is not the part's answer to load."""

    kind: ClassVar[str] = "rest"
    shows: ClassVar[tuple[str, ...]] = ("no drift over minutes without load",)

    channels: base.Channels = (base.ALL_STRAIN,)
    time: Annotated[Quantity, quantity("time")] = Field(default="5 min", validate_default=True)
    drift: Annotated[Within, within("strain")] = Field(default="within 5 µε", validate_default=True)

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """The channels must carry strain, and at rest there is no strain a percentage could be of."""
        found = base.channel_problems(rig, self.channels)
        if self.drift.relative:
            found.append(("drift", f"{self.drift.text} of nothing", "write a strain, such as `within 5 µε`"))
        return found

    def acquire(self, live: LiveRig) -> None:
        """Read at the start and then once a minute."""
        names = base.strain_channels(live.rig, self.channels)
        end = live.clock.now() + self.time.value
        live.read("rest", names, count=READINGS, interval_s=INTERVAL_S)
        while (left := end - live.clock.now()) > 0:
            live.wait(min(LOOK_EVERY_S, left), "at rest")
            live.read("rest", names, count=READINGS, interval_s=INTERVAL_S)

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """One check per channel: the reading farthest from the first one, against the limit."""
        blocks = record.blocks("rest")
        names = base.strain_channels(rig, self.channels)
        return [self._check(rig, rule, record, name, blocks) for name in names] if len(blocks) > 1 else []

    def _check(self, rig: Rig, rule: Rule, record: StepRecord, name: str, blocks: Sequence[Block]) -> Check:
        about = Subject("drift at rest", name, "strain", f"over {self.time.text}")
        limit = self.stated("drift")
        if not all(usable(block[name]) for block in blocks):
            note = "overload or open circuit"
            return no_reading(record, about, limit.tolerance, limit.origin, "reject", note)
        first, *later = blocks
        moved = [strain_between(rig, name, block, first, "at rest").estimate() for block in later]
        farthest = max(moved, key=lambda estimate: abs(estimate.value))
        return specified_check(record, about, farthest, limit.tolerance, rule, limit.origin)


class Notice(ReportWriter):
    """One page of plain text to pin up beside the rig."""

    kind: ClassVar[str] = "notice"
    filename: ClassVar[str] = "notice.txt"

    def write(self, verdict: Verdict, folder: Path) -> None:
        """The verdict, its reasons, and how each check came out."""
        lines = [
            f"{verdict.rig.name}",
            f"{verdict.procedure.name}, {verdict.started}",
            "",
            f"{'SIMULATED: ' if verdict.simulated else ''}{verdict.verdict.upper()}",
            *(f"  {reason}" for reason in verdict.why),
            "",
            *(_line(check) for check in verdict.checks),
            "",
            *(f"not shown: {aspect}" for aspect in verdict.not_shown),
        ]
        (folder / self.filename).write_text("\n".join(lines) + "\n", encoding="utf-8")


def _line(check: Check) -> str:
    measured = "no reading" if check.measured is None else show(check.measured, check.kind, 4)
    where = f" ({check.at})" if check.at else ""
    return f"{check.finding:<9}  {check.step_kind}: {check.name} of {check.subject}{where}: {measured}"
