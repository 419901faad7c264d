"""Readings that no part and no sensor can give: what came is no measured value, and nothing is judged by it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from rigproof.documents.rig import Rig
from rigproof.errors import InstrumentError
from rigproof.instruments import FloatArray
from rigproof.quantities import show

# By kind of what is read: the least and the largest value that can be, base units, and why.
_POSSIBLE = {
    "bridge output": (-1.0, 1.0, "no resistive bridge puts out more than it is fed"),
    "temperature": (-273.15, np.inf, "nothing is colder than -273.15 °C"),
}


def expect_possible(rig: Rig, values: Mapping[str, FloatArray]) -> None:
    """Raise `InstrumentError` for a finite reading that cannot be, as of a wrong address, word order or unit.

    `values`: by channel, as read, base units. No reading (nan, infinite) is the matter of the checks.
    """
    for name, block in values.items():
        channel = rig.channels[name]
        if channel.reads not in _POSSIBLE:
            continue
        least, most, why = _POSSIBLE[channel.reads]
        wrong = block[np.isfinite(block) & ((block < least) | (block > most))]
        if wrong.size:
            raise InstrumentError(
                channel.instrument,
                f"{name} reads {show(float(wrong[0]), channel.reads, 4)}, and {why}: the number is read wrongly; see "
                "that input, address, word order, form, unit and scale are those of the manual",
            )
