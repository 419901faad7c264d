"""Step `balance`: the bridge rests near zero, still, and without noise."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from math import sqrt
from typing import TYPE_CHECKING, Annotated, ClassVar

import numpy as np
from pydantic import BeforeValidator, Field, WithJsonSchema

from rigproof.documents.rig import Rig
from rigproof.quantities import Quantity, Within, WrittenError, quantity, within
from rigproof.uncertainty import Estimate, Input, Rule, Tolerance
from rigproof.verdict.record import Check

from . import base
from .checks import Subject, no_reading, specified_check
from .foresee import Foreseen, foreseen
from .guard import missing, safely
from .hints import Hints
from .record import Block, StepRecord
from .strains import strain_between
from .terms import Term, absolute, nominal_strain, usable

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig

# 2.3 s: 115 periods of 50 Hz mains, 138 of 60 Hz. One reading a period would meet the ripple at one phase and miss it.
READINGS, INTERVAL_S = 100, 0.023
LEFT_OUT = "left out"  # of a limit: the procedure does without the check

_LIMIT_OR_LEFT_OUT = WithJsonSchema({"type": "string", "description": f"within a strain, or `{LEFT_OUT}`"})


def _unless_left_out(written: object) -> object:
    if written is None:  # an empty line must not take a check away
        raise WrittenError("nothing is written", f"write a limit, or `{LEFT_OUT}`")
    return None if written == LEFT_OUT else written


class Balance(base.Step):
    """Start offset, drift over the settling time and noise of each bridge, without load.

    Limits are trade custom (no standard seen): offset 1.5 mV/V is 3000 µε at a gauge factor of 2, of which a packet's
    0.3 % of resistance alone makes half; drift 5 µε;
    noise 2 µε. A bridge whose readings do not scatter at all is frozen, not quiet. What is read by hand shows no noise:
    `noise: left out` says that nobody looks for it.
    """

    kind: ClassVar[str] = "balance"
    shows: ClassVar[tuple[str, ...]] = ("bridge balance and rest at no load",)
    hints: ClassVar[Hints] = {
        "offset": "a gauge strained when bonded, unequal leads, a poor joint, load on the part",
        "drift": "a part that warms or cools, a grid heated by its excitation, moisture, a bond not cured, an "
        "amplifier not warm",
        "noise": "pickup of the mains, a ground loop, a loose joint or lead",
    }

    channels: base.Channels = (base.ALL_STRAIN,)
    """The strain channels that are looked at."""
    settle: Annotated[Quantity, quantity("time")] = Field(default="60 s", validate_default=True)
    """Rest between the two blocks of readings."""
    offset: Annotated[Within, within("bridge output", absolute=True)] = Field(
        default="within 1.5 mV/V", validate_default=True
    )
    """How far the output may be from zero without load."""
    drift: Annotated[Within, within("strain", absolute=True)] = Field(default="within 5 µε", validate_default=True)
    """How far the strain may move over `settle`."""
    noise: Annotated[
        Within | None, within("strain", absolute=True), BeforeValidator(_unless_left_out), _LIMIT_OR_LEFT_OUT
    ] = Field(default="within 2 µε", validate_default=True)
    """Largest standard deviation of the readings."""

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """Only strain channels can be balanced."""
        return base.channel_problems(rig, self.channels)

    def foresee(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Foreseen]:
        """Noise is foreseen at its limit, where the guard band counts: on paper there is none."""
        others = [check for check in self.judge(rig, rule, record) if check.name != "noise"]
        names = dict.fromkeys(check.subject for check in others)
        limit, end = self.noise, record.block("end")
        if limit is None or end is None:
            return foreseen(others)
        single = [check for name in names if len(end[name]) < 2 for check in self._noise(rig, rule, record, name, end)]
        noisy = [
            check
            for name in names
            if len(end[name]) > 1
            for check in self._noise(rig, rule, record, name, self._noisy(rig, name, limit))
        ]
        return [*foreseen([*others, *single]), *(Foreseen(check, True) for check in noisy)]

    def _noisy(self, rig: Rig, name: str, limit: Within) -> Block:
        """Readings whose strain has the standard deviation that the limit allows: half of them above, half below."""
        per_output = float(nominal_strain(rig, name, np.array([1e-6]), 0.0)[0]) / 1e-6
        size = limit.limit / per_output * sqrt((READINGS - 1) / READINGS)
        return Block("end", 0.0, {name: np.tile([size, -size], READINGS // 2)}, {})

    def acquire(self, live: LiveRig) -> None:
        """Read at the start, let the rig rest, read again; the second block is the zero for the interlocks."""
        names = base.strain_channels(live.rig, self.channels)
        live.read("start", names, count=READINGS, interval_s=INTERVAL_S)
        live.wait(self.settle.value, "settling")
        live.read("end", names, count=READINGS, interval_s=INTERVAL_S)
        live.take_zero(names)

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """Offset, drift and noise of each channel."""
        start, end = record.block("start"), record.block("end")
        checks: list[Check] = []
        for name in base.strain_channels(rig, self.channels):
            about = Subject("offset", name, "bridge output")
            if start is None or end is None:
                checks.append(missing(record, about, "the readings at rest were not taken"))
                continue
            make = partial(self._checks, rig, rule, record, name, start, end)
            checks += safely(record, about, make)
        return checks

    def _checks(self, rig: Rig, rule: Rule, record: StepRecord, name: str, start: Block, end: Block) -> Sequence[Check]:
        channel = rig.channels[name]
        offset, limit = Subject("offset", name, "bridge output"), self.stated("offset")
        if not (usable(start[name]) and usable(end[name])):
            note = "overload or open circuit"
            return [no_reading(record, offset, limit.tolerance, limit.origin, "reject", note)]
        output = absolute(channel, end[name], f"{name} output", "V/V").estimate()
        moved = strain_between(rig, name, end, start, "end").estimate()
        drift, most = Subject("drift", name, "strain", f"over {self.settle.text}"), self.stated("drift")
        return [
            specified_check(record, offset, output, limit.tolerance, rule, limit.origin),
            specified_check(
                record, drift, moved, most.tolerance, rule, most.origin, "" if self.noise else "nobody looked for noise"
            ),
            *self._noise(rig, rule, record, name, end),
        ]

    def _noise(self, rig: Rig, rule: Rule, record: StepRecord, name: str, block: Block) -> Iterator[Check]:
        """Standard deviation s of n readings; u(s) = s / sqrt(2 (n - 1)) (GUM E.4.3), taken at the limit."""
        if self.noise is None:
            return
        about = Subject("noise", name, "strain", f"{len(block[name])} readings")
        limits, origin = Tolerance(None, self.noise.limit), self.stated("noise").origin
        samples = block[name]
        if len(samples) < 2:
            note = f"one reading shows no noise; write `noise: {LEFT_OUT}` where the meter is read by hand"
            yield no_reading(record, about, limits, origin, "undecided", note)
            return
        if float(np.ptp(samples)) == 0.0:
            yield no_reading(record, about, limits, origin, "undecided", "all readings alike: frozen or too coarse")
            return
        values = nominal_strain(rig, name, samples, float(np.mean(samples)))
        s, n = float(np.std(values, ddof=1)), len(values)
        at_limit = _scatter(name, self.noise.limit, n)
        yield specified_check(record, about, _scatter(name, s, n), limits, rule, origin, at_limit=at_limit)


def _scatter(name: str, s: float, n: int) -> Estimate:
    """A standard deviation `s` of `n` readings with its uncertainty."""
    source = f"standard deviation of {n} readings"
    item = Input(f"{name} scatter of readings", s, s / sqrt(2 * (n - 1)), n - 1, "t", "1", source=source)
    return Term(lambda scatter: scatter, (item,)).estimate()
