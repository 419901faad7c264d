"""The rig as the run itself found it: a gauge's resistance as measured takes the place of its packet's."""

from __future__ import annotations

from dataclasses import replace

from rigproof.documents.rig import Rig
from rigproof.quantities import Uncertain

from .record import StepRecord
from .terms import MEASURED, absolute, usable

RESISTANCE = "resistance"  # label of the blocks; each is tagged with the strain channel it belongs to


def as_found(rig: Rig, record: StepRecord) -> Rig:
    """The rig with the gauge resistances that `record` holds; the same rig where it holds none.

    A packet states a lot's limits; four wires at the gauge state this gauge, after bonding and soldering. Later
    budgets (shunt reading, strain) then carry the smaller uncertainty of the measurement.
    """
    gauges = dict(rig.gauges)
    for block in record.blocks(RESISTANCE):
        channel = rig.channels[block.tags["strain_channel"]]
        for name, samples in block.values.items():
            if channel.gauge is None or not usable(samples):
                continue
            found = absolute(rig.channels[name], samples, "reading", "Ω").estimate()
            measured = Uncertain(found.value, found.u, found.dof, "normal", "resistance", MEASURED)
            gauges[channel.gauge] = gauges[channel.gauge].model_copy(update={"resistance": measured})
    return replace(rig, gauges=gauges)
