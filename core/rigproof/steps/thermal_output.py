"""Step `thermal output`: the part grows warmer or colder without load, and each gauge shows what it must for that."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import Field

from rigproof.documents.rig import Rig
from rigproof.instruments import FloatArray
from rigproof.quantities import Quantity, Within, quantity, show, within
from rigproof.uncertainty import Rule
from rigproof.verdict.record import Check

from . import base
from .checks import Subject, no_reading, specified_check, value_of
from .foresee import Assumed
from .guard import missing, safely
from .hints import Hints
from .record import Block, StepRecord
from .strains import rise_between, strain_between, thermometer
from .terms import combine, usable

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig

READINGS, INTERVAL_S = 50, 0.023  # more than a second of mains ripple, met at all phases
STEADY_OVER_S = 120.0  # gauge, wall and sensor are alike when none of them moves any more
NOT_WARMED = "not warmed"


class ThermalOutput(base.Step):
    """Strain that temperature alone makes each gauge show, per kelvin, less what part, gauge and leads account for.

    The step heats nothing: it waits until the temperature beside the gauges has moved by `change` and rests again.
    Filling with cold water that comes to the temperature of the bay does it, so does a morning sun. A gauge made for
    another material, or a wrong expansion in rig.yaml, shows here; elsewhere only while the bay drifts. ASTM E251 and
    OIML R 62 name the quantity; the default limit is about a third of what a gauge for steel shows on aluminium
    (reasoning, no source).
    """

    kind: ClassVar[str] = "thermal output"
    shows: ClassVar[tuple[str, ...]] = (base.THERMAL_OUTPUT,)
    hints: ClassVar[Hints] = {
        "thermal output": "a gauge made for another material, a grid heated by its excitation, a thermometer that "
        "does not touch the part, unequal leads",
    }

    channels: base.Channels = (base.ALL_STRAIN,)
    """The strain channels that are judged."""
    change: Annotated[Quantity, quantity("temperature difference", above="0 K")] = Field(
        default="3 K", validate_default=True
    )
    """By how much the temperature must have moved, up or down."""
    steady: Annotated[Quantity, quantity("temperature rate", above="0 K/h")] = Field(
        default="1 K/h", validate_default=True
    )
    """The rate below which it counts as at rest, over two minutes."""
    patience: Annotated[Quantity, quantity("time")] = Field(default="4 h", validate_default=True)
    """How long the step waits for that."""
    every: Annotated[Quantity, quantity("time", above="0 s")] = Field(default="10 s", validate_default=True)
    """How often it looks at the temperature."""
    difference: Annotated[Within, within("strain per temperature", absolute=True)] = Field(
        default="within 4 µε/K", validate_default=True
    )
    """How far the strain per kelvin may be from the expected one."""

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """Each gauge names the channel that reads its temperature, and the part how it expands."""
        found = base.channel_problems(rig, self.channels)
        if found:
            return found
        blind = [name for name in base.strain_channels(rig, self.channels) if thermometer(rig, name) is None]
        remedy = "add `temperature: CHANNEL` and `compensated for:` to the gauge in rig.yaml, or leave the channel out"
        if rig.part.expansion() is None:
            remedy = f"the part model `{rig.part.kind}` states no expansion; leave the step out"
        return [("channels", f"nothing says how warm the gauge of {name!r} is", remedy) for name in blind]

    def assumes(self) -> Assumed:
        """On paper the part has warmed by the time of the first look."""
        return Assumed(warms_k=self.change.value)

    def open_wait(self) -> tuple[float, str]:
        """On paper it takes as long as the part must have rested."""
        longest_s = max(0.0, self.patience.value - STEADY_OVER_S)
        return longest_s, f"the part to grow warmer or colder by {self.change.text}"

    def remarks(self) -> Sequence[str]:
        """What a person has to do for it."""
        return (
            f"Thermal output: the run waits up to {self.patience.text} until the unloaded part has grown warmer or "
            f"colder by {self.change.text} and rests; it heats nothing. Fill with cold water, or warm the part gently.",
        )

    def acquire(self, live: LiveRig) -> None:
        """Read, wait for the temperature to move and to rest, read again."""
        names = base.strain_channels(live.rig, self.channels)
        beside = tuple(dict.fromkeys(thermometer(live.rig, name) or "" for name in names))
        start = live.read("before", names, count=READINGS, interval_s=INTERVAL_S)
        began, looks = live.clock.now(), deque[tuple[float, dict[str, float]]]()
        while True:
            live.wait(self.every.value, f"until the temperature has moved by {self.change.text} and rests")
            now = live.read("temperature", beside)
            looks.append((live.clock.now(), {n: self._rise(live.rig, n, now, start) for n in beside}))
            if why := self._not_yet(looks):
                if live.clock.now() - began > self.patience.value:
                    live.phase(NOT_WARMED, why=f"{why} after {self.patience.text}")
                    break
            else:
                break
        live.read("after", names, count=READINGS, interval_s=INTERVAL_S)

    def _not_yet(self, looks: deque[tuple[float, dict[str, float]]]) -> str:
        """What is still wanting, in words; "" when the part has come to rest at another temperature."""
        (now_s, rises), rate = looks[-1], self.steady.value
        while len(looks) > 2 and now_s - looks[1][0] >= STEADY_OVER_S:
            looks.popleft()
        since_s, before = looks[0]
        least = min(rises, key=lambda name: abs(rises[name]))
        if abs(rises[least]) < self.change.value:
            moved = show(abs(rises[least]), "temperature difference", 2)
            return f"{least} has moved by {moved}, not by {self.change.text}"
        if now_s - since_s < STEADY_OVER_S or any(abs(rises[n] - before[n]) > rate * (now_s - since_s) for n in rises):
            return f"the temperature moves by more than {self.steady.text}"
        return ""

    @staticmethod
    def _rise(rig: Rig, name: str, now: dict[str, FloatArray], start: dict[str, FloatArray]) -> float:
        return value_of(rise_between(rig, name, now, start, "now"))

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """One check of each channel."""
        before, after = record.block("before"), record.block("after")
        short = [str(event["why"]) for event in record.events("phase") if event["what"] == NOT_WARMED]
        checks: list[Check] = []
        for name in base.strain_channels(rig, self.channels):
            about = Subject("thermal output", name, "strain per temperature")
            if before is None or after is None or short:
                checks.append(missing(record, about, short[0] if short else "not read"))
            else:
                checks += safely(record, about, partial(self._checks, rig, rule, record, name, before, after))
        return checks

    def _checks(
        self, rig: Rig, rule: Rule, record: StepRecord, name: str, before: Block, after: Block
    ) -> Iterator[Check]:
        beside, limit = thermometer(rig, name), self.stated("difference")
        assert beside is not None, "see `problems`"
        if not (usable(before[name]) and usable(after[name])):
            about = Subject("thermal output", name, "strain per temperature")
            note = "overload or open circuit"
            yield no_reading(record, about, limit.tolerance, limit.origin, "reject", note)
            return
        kelvin = rise_between(rig, beside, after, before, "after")
        left = strain_between(rig, name, after, before, "after")  # what is expected is taken out
        moved = show(value_of(kelvin), "temperature difference", 3)
        about = Subject("thermal output", name, "strain per temperature", f"over {moved}, expected taken out")
        figure = combine(lambda strain, rise: strain / rise, left, kelvin).estimate()
        yield specified_check(record, about, figure, limit.tolerance, rule, limit.origin)
