"""The person of the simulated rig: reads what the twin's meters show, and moves the twin's weights."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from rigproof.clock import Clock
from rigproof.errors import InstrumentError
from rigproof.people import Question
from rigproof.quantities import Quantity, kind_of, parse
from rigproof_twin.fields import field_of
from rigproof_twin.instruments import SimulatedInstrument
from rigproof_twin.instruments.base import OVERLOAD
from rigproof_twin.instruments.terminals import truth
from rigproof_twin.interface import Appearance, World
from rigproof_twin.physics.weights import DeadWeights

if TYPE_CHECKING:
    from rigproof.documents.rig import Rig

READING_S = 8  # to look, type and look again
MOVING_S = 15  # to place a weight and let it come to rest
ROTATING_S = 60  # to rotate a part and centre it again


class HandheldMeter(SimulatedInstrument):
    """A meter at the same terminals as any other, whose display nobody but a person can read."""

    kind = "manual meter"

    def __init__(self, world: World, appearance: Appearance, rng: np.random.Generator) -> None:
        super().__init__(world, replace(appearance, resolution=0.0), rng)  # each display has a step of its own

    def reading(self, channel_input: int, reads: str) -> float:
        """What it measures of an input now, base unit; nan: overload."""
        self.ready_s = self.clock.now()
        seen = self.seen(channel_input, truth(self.world, channel_input, reads))
        return math.nan if abs(seen) >= OVERLOAD else seen


@dataclass(frozen=True)
class Slip:
    """One strain of the run that the person reads wrong."""

    at_reading: int  # counted from 1
    strain: float  # how much too high


class SimulatedPerson:
    """A `rigproof.people.Answers`: careful, never in a hurry, and calls everything by its right name."""

    name = "simulated person"
    how = "simulated"

    def __init__(
        self,
        rig: Rig,
        clock: Clock,
        meters: Mapping[str, HandheldMeter],
        weights: DeadWeights,
        plates: Mapping[str, str],
        slip: Slip | None = None,
        rotate: Callable[[float], None] = lambda _rad: None,
    ) -> None:
        self._rig = rig
        self._wait = clock.wait
        self._meters = meters
        self._weights = weights
        self._plates = plates
        self._slip = slip
        self._rotate = rotate
        self._strains_read = 0

    def answer(self, question: Question, check: Callable[[], None]) -> str:
        """What a person would type who does what is asked."""
        check()
        if question.sound is not None:  # of a step: a careful person does what it says, and takes the time it needs
            self._take(math.ceil(question.takes_s), check)
            return question.sound
        if question.wants == "keep":
            return "keep: it shows so whenever I look" if question.otherwise is None else ""
        if question.wants == "serial number":
            return self._plates[question.instrument]
        if question.wants == "value":
            self._take(READING_S, check)
            return self._read(question)
        if question.wants == "empty":
            return self._clear()
        self._move(question)
        self._take(ROTATING_S if question.wants == "rotate" else MOVING_S, check)
        return question.item

    def _move(self, question: Question) -> None:
        """A weight, or the part."""
        if question.wants == "rotate":
            self._rotate(parse(question.item, "angle").value)
        else:
            self._weights.move(question.item, question.wants == "put on")

    def tell(self, text: str) -> None:
        """It is asked about it in a moment."""

    def _take(self, seconds: int, check: Callable[[], None]) -> None:
        for _ in range(seconds):
            check()
            self._wait(1.0)

    def _read(self, question: Question) -> str:
        """The display, rounded to its step."""
        meter = self._meters.get(question.instrument)
        if meter is None:
            raise InstrumentError(question.instrument, "the simulated person finds no meter of that name")
        number = int(question.item)
        displays = field_of(self._rig.instruments[question.instrument].settings, "inputs")
        assert isinstance(displays, dict)
        channels = self._rig.channels.values()
        reads = next((c.reads for c in channels if (c.instrument, c.input) == (question.instrument, number)), "")
        slip = self._slip_now() if reads == "bridge output" else 0.0
        return shown(displays[number], meter.reading(number, reads), slip)

    def _slip_now(self) -> float:
        """By how much this reading of a strain comes out too high."""
        self._strains_read += 1
        return self._slip.strain if self._slip and self._strains_read == self._slip.at_reading else 0.0

    def _clear(self) -> str:
        for mark in sorted(self._weights.on):
            self._weights.move(mark, False)
            self._wait(MOVING_S)
        return "yes"


def shown(display: object, reading: float, slip: float = 0.0) -> str:
    """A reading (base unit of what was measured) as a display has it, `slip` (base unit of the display) too high.

    A strain indicator is built for a quarter bridge of the gauge factor it is set to: a quarter of dR/R = GF strain
    comes out of the bridge, so it multiplies what comes by four and divides by that factor.
    """
    if math.isnan(reading):
        return "overload"
    factor, step, unit = (field_of(display, name) for name in ("gauge factor set", "resolution", "unit"))
    assert isinstance(step, Quantity)
    units = kind_of(str(field_of(display, "reads"))).units
    size, offset = (float(part) for part in units[str(unit)])
    value = slip + (4.0 * reading / factor.value if isinstance(factor, Quantity) else reading)
    step_shown = step.value / size
    digits = max(0, math.ceil(-math.log10(step_shown) - 1e-9))
    rounded = round((value - offset) / size / step_shown) * step_shown
    return f"{rounded + 0.0:.{digits}f} {unit}"
