"""Step `shunt`: a known resistor across the active arm gives the reading it must give."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, Annotated, ClassVar

import numpy as np
from pydantic import Field

from rigproof.documents.rig import Rig
from rigproof.models import BridgeModel, Numbers
from rigproof.quantities import Quantity, Uncertain, Within, quantity, uncertain, within
from rigproof.uncertainty import Input, Rule
from rigproof.verdict.record import Check

from . import base
from .checks import Subject, specified_check
from .foresee import Assumed
from .guard import agreement, missing, safely
from .hints import Hints
from .record import Block, StepRecord
from .strains import strain_between
from .terms import Term, bridge, change, nominal_strain, usable

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig

READINGS, INTERVAL_S = 50, 0.02


class Shunt(base.Step):
    """Reading with the calibration resistor across the active arm, against what the resistor must give.

    The tolerance is computed: resistor, gauge resistance, leads and the amplifier's accuracy. It proves gain and
    wiring of the chain. It is blind to a wrong gauge factor, to the bond and to the axis: those need a load.
    """

    kind: ClassVar[str] = "shunt"
    shows: ClassVar[tuple[str, ...]] = (base.GAIN,)
    hints: ClassVar[Hints] = {
        "shunt reading": "the resistor and where it is connected, leads (resistance, wires), gain, swapped inputs",
        "zero after shunt": "a shunt that is still connected, a loose joint, drift",
    }

    channels: base.Channels = (base.ALL_STRAIN,)
    """The strain channels that are shunted."""
    resistor: Annotated[
        Uncertain,
        uncertain(
            "resistance", at_least="1 kΩ", because="a lesser one drives a bridge far beyond its amplifier's range"
        ),
    ]
    """The resistor that the relay puts across the active arm, with its limits."""
    settle: Annotated[Quantity, quantity("time")] = Field(default="2 s", validate_default=True)
    """Wait after the relay switches."""
    zero_after: Annotated[Within, within("strain", absolute=True)] = Field(default="within 2 µε", validate_default=True)
    """How far the strain may be from the start once the resistor is off again."""

    def remarks(self) -> Sequence[str]:
        """Across what the resistor counts."""
        return ("The resistor counts as joined at the instrument's terminals: the leads lie within it.",)

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """Only strain channels on an instrument with a shunt relay."""
        return base.channel_problems(rig, self.channels)

    def assumes(self) -> Assumed:
        """The resistor at its stated value."""
        return Assumed(shunt_ohm=self.resistor.value)

    def acquire(self, live: LiveRig) -> None:
        """Read open, closed and open again, channel by channel; the relay is opened whatever happens."""
        for name in base.strain_channels(live.rig, self.channels):
            live.read("open", [name], count=READINGS, interval_s=INTERVAL_S)
            with live.shunt(name):
                live.wait(self.settle.value, f"shunt on {name}")
                live.read("closed", [name], count=READINGS, interval_s=INTERVAL_S)
            live.wait(self.settle.value, f"shunt off {name}")
            live.read("after", [name], count=READINGS, interval_s=INTERVAL_S)

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """Shunt reading against the resistor, and the zero afterwards, for each channel."""
        checks: list[Check] = []
        blocks = [
            {name: block for block in record.blocks(label) for name in block.values}
            for label in ("open", "closed", "after")
        ]
        for name in base.strain_channels(rig, self.channels):
            about = Subject("shunt reading", name, "bridge output")
            if all(name in by_channel for by_channel in blocks):
                make = partial(self._checks, rig, rule, record, name, *(by_channel[name] for by_channel in blocks))
                checks += safely(record, about, make)
            else:
                checks.append(missing(record, about, "the resistor was not switched on and off"))
        return checks

    def _checks(
        self, rig: Rig, rule: Rule, record: StepRecord, name: str, opened: Block, closed: Block, after: Block
    ) -> Sequence[Check]:
        about = Subject("shunt reading", name, "bridge output")
        origin = "computed: resistor, gauge, leads and amplifier"
        if not all(usable(block[name]) for block in (opened, closed, after)):
            return [missing(record, about, "overload or open circuit")]
        step = change(rig.channels[name], closed[name], opened[name], "shunt", "V/V")
        zero = Input(
            f"{name} start offset", float(np.mean(opened[name])), 0.0, shape="exact", unit="V/V", source="readings"
        )
        back = strain_between(rig, name, after, opened, "after shunt").estimate()
        limit = self.stated("zero_after")
        note = f"resistor between {bridge(rig, name)[1].shunted}"
        found = agreement(record, about, step, self._expected(rig, name, zero), rule, origin, note)
        strain = nominal_strain(rig, name, np.array([np.mean(closed[name])]), zero.value)
        return [
            found.model_copy(update={"equivalent_strain": float(strain[0])}),
            specified_check(
                record, Subject("zero after shunt", name, "strain"), back, limit.tolerance, rule, limit.origin
            ),
        ]

    def _resistor(self) -> Input:
        return self.resistor.input("shunt resistor").named("shunt resistor", "procedure: shunt.resistor")

    def _expected(self, rig: Rig, name: str, zero: Input) -> Term:
        """The output change the resistor must give, as a function of resistor, start offset and bridge inputs."""
        _, model, inputs = bridge(rig, name)

        def function(resistor: Numbers, start: Numbers, *model_inputs: Numbers) -> Numbers:
            return model.shunt_reading(resistor, start, *model_inputs)

        assert isinstance(model, BridgeModel)
        return Term(function, (self._resistor(), zero, *inputs))
