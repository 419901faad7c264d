"""Step `inspection`: a person goes through a list of things to do and to see, and says of each that it is so."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import Field, model_validator

from rigproof.documents.answers import YesNo
from rigproof.documents.named import BY_NAME
from rigproof.documents.rig import Rig
from rigproof.documents.validation import wrong
from rigproof.quantities import did_you_mean
from rigproof.uncertainty import Rule
from rigproof.verdict.record import Check, Finding, WorkRecord

from . import base
from .asking import Talk
from .lists import Change, Items, PlainName, ready_made, task_of
from .record import StepRecord
from .tasks import Task
from .worked import title_of, work_checks, work_record, works

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig


REFUSED = "what is left of the list is not asked. What puts no load on goes on, for the record; Ctrl-C ends the run"


class Inspection(base.Step):
    """An ordered list of things to do and to see; a named person confirms each, or refuses it with a reason.

    A thing with a least time is timed by the clock of the run: what took less is asked again, or signed for with a
    reason. What people say is no measurement: it shows nothing of the installation, and stands in the verdict as the
    record of how it was made.
    """

    kind: ClassVar[str] = "inspection"
    asks_a_person: ClassVar[bool] = True
    admits: ClassVar[tuple[Finding, ...]] = ("accept", "undecided")

    of: PlainName
    """The work: one of the ready-made lists, or any words with `items`."""
    gauge: PlainName | None = None
    """The gauge it is done to, where a list is gone through once for each."""
    items: Items | None = None
    """Things to do and to see, by name, in order; left out, the ready-made list."""
    changes: Annotated[dict[str, Change], BY_NAME] = Field(default={}, validate_default=True)
    """What is said in place of items of the ready-made list, by their names."""
    leave_out: tuple[str, ...] = ()
    """Items of the ready-made list that are not asked."""
    concessions: YesNo = True
    """Whether a time or a value that falls short may be signed for with a reason."""

    @model_validator(mode="after")
    def _of_the_list(self) -> Inspection:
        if self.items is None and self.of not in ready_made():
            remedy = f"{did_you_mean(self.of, ready_made())} Or write `items`."
            raise wrong(("of",), f"no ready-made list is called {self.of!r}", remedy, self.of)
        known = list(ready_made()[self.of]) if self.items is None else []
        named: list[tuple[tuple[str | int, ...], str]] = [(("changes", name), name) for name in self.changes]
        named += [(("leave out", index), name) for index, name in enumerate(self.leave_out)]
        for path, name in named:
            if name not in known:
                what = f"{name!r} is no item of the ready-made list `{self.of}`"
                remedy = did_you_mean(name, known) if known else "write it in `items`"
                raise wrong(path, what, remedy, name)
        if known and set(known) <= set(self.leave_out):
            raise wrong(("leave out",), "nothing of the list is left", "leave the whole step out", self.leave_out)
        return self

    @property
    def title(self) -> str:
        """The work, with the gauge it is done to."""
        return title_of(self.of, self.gauge)

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """The gauge must be one of the rig."""
        if self.gauge is None or self.gauge in rig.gauges:
            return ()
        return (("gauge", f"{self.gauge!r} is no gauge of the rig", did_you_mean(self.gauge, rig.gauges)),)

    def tasks(self) -> Sequence[Task]:
        """The items, with who says so."""
        if self.items is not None:
            return tuple(task_of(item, written="procedure") for item in self.items.values())
        listed = ready_made()[self.of].items()
        return tuple(task_of(item, self.changes.get(name)) for name, item in listed if name not in self.leave_out)

    def remarks(self) -> Sequence[str]:
        """What it is about."""
        count = len(self.tasks())
        items = f"{count} items" if count > 1 else "1 item"
        return (f"{self.title.capitalize()}: a person confirms {items}, or refuses with a reason.",)

    def reaches(self, rig: Rig) -> tuple[str, ...]:  # noqa: ARG002  a person's word reaches no channel
        """No channel."""
        return ()

    def rests_on(self, rig: Rig) -> tuple[str, ...]:  # noqa: ARG002  it reads none
        """No channel."""
        return ()

    def acquire(self, live: LiveRig) -> None:
        """Item by item, until one is refused; what was done before a pause is not asked again."""
        tasks, before = self.tasks(), works(live.record())
        for number, task in enumerate(tasks, 1):
            if before.get(task.name, {}).get("done"):
                live.phase("done before the pause", item=task.name)
            elif not Talk(live, self.title, task, f"{number} of {len(tasks)}", self.concessions).take():
                live.phase("refused", why=f"{task.name}; {REFUSED}")
                return

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:  # noqa: ARG002  no channel is read
        """All items done, each in its time and its value in its range."""
        return tuple(work_checks(rule, record, self.title, self.tasks(), self.concessions))

    def worked(self, record: StepRecord) -> Sequence[WorkRecord]:
        """One line an item."""
        found = works(record)
        return tuple(work_record(record.step, task, found[task.name]) for task in self.tasks() if task.name in found)
