"""Step `cure`: the time that an adhesive or a coating needs before anybody may go on, and how warm it was meanwhile."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING, Annotated, ClassVar

import numpy as np
from pydantic import Field, ValidationInfo, field_validator

from rigproof.documents.answers import YesNo
from rigproof.documents.rig import Rig
from rigproof.documents.validation import consequence
from rigproof.instruments import FloatArray
from rigproof.models import DocumentModel, Numbers
from rigproof.people import Question
from rigproof.quantities import Quantity, WrittenError, did_you_mean, kind_of, quantity, show
from rigproof.uncertainty import Rule, Tolerance
from rigproof.verdict.record import Check, Finding, WorkRecord

from . import base
from .asking import understood
from .checks import Subject, specified_check
from .guard import missing, safely
from .inspection import Inspection
from .lists import PlainName
from .record import Block, StepRecord
from .tasks import COMMON_PRACTICE, WORK, Task
from .terms import Term, absolute, reduction_inputs, usable
from .worked import BY_THE_CLOCK, conceded, exact_check, is_of, work_record, works

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig

THICKNESS = "coating thickness"  # what an earlier inspection measured, where this step is to use it
TEMPERATURE = "cure"  # label of the readings
DAY_S = 86400.0
CAUTION = "What cures gives off vapour: let air in. Keep load and heat off the part, and do not pull on the leads."


class Warmth(DocumentModel):
    """How warm it must be during the cure."""

    channel: str
    """The temperature channel."""
    lowest: Annotated[Quantity, quantity("temperature")]
    """Least temperature."""
    highest: Annotated[Quantity, quantity("temperature")]
    """Highest temperature."""
    every: Annotated[Quantity, quantity("time", at_least="1 s")] = Field(default="10 min", validate_default=True)
    """How often it is read; a meter that a person reads, only at the begin and the end."""

    @field_validator("highest")
    @classmethod
    def _above_lowest(cls, highest: Quantity, info: ValidationInfo) -> Quantity:
        if "lowest" not in info.data:
            raise consequence()
        if highest.value <= info.data["lowest"].value:
            raise WrittenError(
                f"{highest.text!r} is not above {info.data['lowest'].text!r}", "write the higher temperature here"
            )
        return highest


class Cure(base.Step):
    """The least time since the last item of an earlier inspection was done, and the temperature meanwhile.

    What is not over yet is waited for; where that takes longer than `patience` the run is suspended, and `--resume`
    finds the time that has passed from the record. A simulated run waits as long as it takes.

    A coating without a time of its own cures by its thickness, a day for each `per day` of it: 24 h for 0.4 to 0.5 mm
    of a brushed coating (common practice, no source; the smaller figure, which waits longer).
    """

    kind: ClassVar[str] = "cure"
    asks_a_person: ClassVar[bool] = True
    admits: ClassVar[tuple[Finding, ...]] = ("accept", "undecided")

    since: PlainName
    """The earlier inspection whose last item begins it, by its `of`."""
    at_least: Annotated[Quantity | None, quantity("time", above="0 s")] = None
    """The least time, best from the sheet of the adhesive or the coating; left out, from the thickness."""
    source: str = ""
    """Who says so, such as the sheet and its page."""
    thickness: Annotated[Quantity | None, quantity("length", above="0 mm")] = None
    """Thickness of the coating; left out, the `coating thickness` that the inspection measured."""
    per_day: Annotated[Quantity, quantity("length", above="0 mm")] = Field(default="0.4 mm", validate_default=True)
    """Thickness that cures in a day."""
    temperature: Warmth | None = None
    """How warm it must be."""
    patience: Annotated[Quantity, quantity("time")] = Field(default="1 h", validate_default=True)
    """How long the run waits by itself; a longer rest suspends it."""
    concessions: YesNo = True
    """Whether a shorter time may be signed for with a reason."""

    @property
    def title(self) -> str:
        """Of the work."""
        return f"cure of {self.since}"

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """The temperature channel must be one."""
        known = [name for name, channel in rig.channels.items() if channel.measures == "temperature"]
        if self.temperature is None or self.temperature.channel in known:
            return ()
        name = self.temperature.channel
        return (("temperature", f"{name!r} is no temperature channel of the rig", did_you_mean(name, known)),)

    def follows(self, earlier: Sequence[base.Step]) -> Sequence[tuple[str, str, str]]:
        """An inspection of that name comes before, and one of the two says how long it takes."""
        found = [step for step in earlier if isinstance(step, Inspection)]
        since = [step for step in found if step.of == self.since]
        if not since:
            hint = did_you_mean(self.since, [step.of for step in found]) if found else "put an `inspection` before it"
            return (("since", f"no inspection of {self.since!r} comes before this step", hint),)
        beside = [task.measured for task in since[-1].tasks() if task.measured]
        measured = any(each.of == THICKNESS and each.lowest.kind == "length" for each in beside)
        if self.at_least or self.thickness or measured:
            return ()
        what = f"neither `at least` nor `thickness` is written, and {self.since!r} measures no {THICKNESS}"
        return (("since", what, "write `at least` from the sheet of the adhesive"),)

    def tasks(self) -> Sequence[Task]:
        """The wait; by a thickness that will be measured, it is not known beforehand how long."""
        return (self._task(None),)

    def _task(self, measured: float | None) -> Task:
        """The wait after a coating of which so much was measured (m)."""
        least = self._least(measured)
        by_thickness = self.at_least is None
        text = f"Let {self.since} cure" + (f", 24 h for each {self.per_day.text} of it" if by_thickness else "")
        return Task("cure", text, self._origin, least, self._origin if least else "", caution=CAUTION)

    @property
    def _origin(self) -> str:
        """Who says how long."""
        if self.source:
            return f"procedure: {self.source}"
        return "procedure" if self.at_least or "per_day" in self.model_fields_set else COMMON_PRACTICE

    def _least(self, measured: float | None) -> Quantity | None:
        """The least time; of a coating from the thicker of what is written and what was measured (m)."""
        if self.at_least is not None:
            return self.at_least
        known = [each for each in (self.thickness.value if self.thickness else None, measured) if each is not None]
        if not known:
            return None
        seconds = round(DAY_S * max(known) / self.per_day.value, 3)
        return Quantity(seconds, "time", f"{seconds / 3600:.4g} h")

    def remarks(self) -> Sequence[str]:
        """What becomes of the run meanwhile."""
        patience = f"more than {self.patience.text} of it (`patience:`) suspend the run"
        return (f"{self.title.capitalize()}: the run waits; {patience}, and `--resume` goes on with it.",)

    def reaches(self, rig: Rig) -> tuple[str, ...]:  # noqa: ARG002  time shows nothing of a channel
        """No channel."""
        return ()

    def rests_on(self, rig: Rig) -> tuple[str, ...]:  # noqa: ARG002  no strain, no load
        """The temperature channel."""
        return (self.temperature.channel,) if self.temperature else ()

    def acquire(self, live: LiveRig) -> None:
        """Wait for what is left of the time; nothing is left where it passed while the run was suspended."""
        last = next((entry for entry in reversed(live.works) if is_of(entry, self.since) and entry["done"]), None)
        if last is None:
            live.phase("no begin", why=f"the record has no work of {self.since!r}")
            return
        thick = [e["value"] for e in live.works if is_of(e, self.since) and e["measured"] == THICKNESS and e["done"]]
        measured = max(thick, default=None)  # of several gauges the one that takes longest
        least = self._least(measured)
        assert least is not None, "see `follows`"
        begun = datetime.fromisoformat(last["utc"])
        until = begun + timedelta(seconds=least.value)
        self._look(live)
        short = self._ask(live, least, until)
        if not short:
            live.rest_until(until, self.patience.value, self.title, partial(self._watch, live))
        self._look(live)
        took = round((live.clock.utc() - begun).total_seconds(), 3)
        done = {"of": self.title, "item": "cure", "origin": self._origin, "done": True, "took_s": took, "short": short}
        live.note(WORK, **done, measured="", value=None, refused="", keep="", thickness=measured)

    def _ask(self, live: LiveRig, least: Quantity, until: datetime) -> str:
        """Why it ends before its time; "" where it does not."""
        left = (until - live.clock.utc()).total_seconds()
        if left <= 0 or not self.concessions:
            return ""
        text = (
            f"{self.title}: at least {least.text} ({self._origin}), until {until:%Y-%m-%d %H:%M} UTC; "
            f"{show(left / 60, 'number', 3)} min are left. {CAUTION} Enter waits; or type `short:` and why it ends now."
        )
        while True:
            typed = live.ask(Question(self.title, "wait", "", text, otherwise="", sound=""))
            if not typed.strip():
                return ""
            reply = understood(typed, "short")
            if reply is not None and reply[0] == "short":
                return reply[1]
            text = f"{self.title}: that is no answer here. Enter waits; or type `short:` and why it ends now."

    def _watch(self, live: LiveRig, left_s: float) -> None:
        """Let time pass up to the next look at the temperature."""
        warmth = self.temperature
        by_hand = warmth is not None and live.read_by_hand(warmth.channel)
        live.wait(left_s if warmth is None or by_hand else min(left_s, warmth.every.value), self.title)
        if warmth is not None and not by_hand and left_s > warmth.every.value:
            self._look(live)

    def _look(self, live: LiveRig) -> None:
        if self.temperature is not None:
            live.read(TEMPERATURE, [self.temperature.channel], count=1, utc=live.clock.utc().isoformat())

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """Time enough, and the coldest and the warmest reading in their range."""
        entry = works(record).get("cure")
        about = Subject("time", self.title, "time")
        if entry is None:
            return (missing(record, about, "it did not come to its end"),)
        task = self._task(entry["thickness"])
        assert task.at_least is not None, "see `follows`"
        limits = Tolerance(task.at_least.value, None)
        check = exact_check(record, about, entry["took_s"], limits, rule, task.at_least_origin, by=BY_THE_CLOCK)
        found = [conceded(check, entry["short"], entry["person"], self.concessions)]
        if self.temperature is not None:
            warm = Subject("temperature", self.temperature.channel, "temperature")
            found += safely(record, warm, partial(self._warmth, rig, rule, record, self.temperature))
        return tuple(found)

    def _warmth(self, rig: Rig, rule: Rule, record: StepRecord, warmth: Warmth) -> Iterator[Check]:
        blocks = [block for taking in (*record.earlier, record) for block in taking.blocks(TEMPERATURE)]
        samples = np.concatenate([block[warmth.channel] for block in blocks]) if blocks else np.array([])
        for at, pick in (("coldest", np.min), ("warmest", np.max)):
            about = Subject("temperature", warmth.channel, "temperature", at)
            if not usable(samples):
                yield missing(record, about, "a reading is missing: overload, open circuit, or none was taken")
                continue
            term = _temperature(rig, warmth.channel, np.array([pick(samples)]))
            limits = Tolerance(warmth.lowest.value, warmth.highest.value)
            yield specified_check(record, about, term.estimate(), limits, rule, "procedure", _unwatched(blocks))

    def worked(self, record: StepRecord) -> Sequence[WorkRecord]:
        """The wait as one line."""
        entry = works(record).get("cure")
        return () if entry is None else (work_record(record.step, self._task(entry["thickness"]), entry),)


def _unwatched(blocks: Sequence[Block]) -> str:
    """The longest time between two readings, so that nobody takes the range for watched throughout."""
    moments = [datetime.fromisoformat(str(block.tags["utc"])) for block in blocks]
    longest = max((later - before for before, later in pairwise(moments)), default=timedelta())
    minutes = show(longest.total_seconds() / 60, "number", 3)
    return f"{len(blocks)} readings, the longest time between two of them {minutes} min"


def _temperature(rig: Rig, name: str, samples: FloatArray) -> Term:
    """The temperature of a channel (°C), with its whole accuracy and through its reduction."""
    channel = rig.channels[name]
    read = absolute(channel, samples, f"{name} reading", kind_of(channel.reads).base)
    model = channel.reduction
    if model is None:
        return read
    n_read = len(read.inputs)

    def function(*values: Numbers) -> Numbers:
        return model.reduce(read.function(*values[:n_read]), 0.0, *values[n_read:])

    return Term(function, (*read.inputs, *reduction_inputs(rig, name)))
