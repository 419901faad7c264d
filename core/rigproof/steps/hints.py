"""What is looked at first where a check of a loaded part does not accept: common practice, no source.

Hints by the name of a check, for the step kinds that share it. They name what often gives such a reading, the usual
first; no reading proves one of them.
"""

from __future__ import annotations

from collections.abc import Mapping

Hints = Mapping[str, str]

_RESPONSE = (
    "bond, gauge factor, place and axis of the gauge, swapped inputs (where one gauge is off); wall or section, "
    "elastic modulus, load channel (where all are off alike)"
)
_ROSETTE = "as a single gauge's bond, gauge factor and place; then numbering of its legs, wall, modulus, load channel"

RESPONSE: Hints = {"sensitivity": _RESPONSE, "strain under load": _RESPONSE}

ROSETTE: Hints = {
    "principal strain 1": _ROSETTE,
    "principal strain 2": _ROSETTE,
    "principal direction": "angle at which it was bonded, numbering of its legs, swapped inputs",
}

LOAD: Hints = {
    "load at the zero": "load that is still on (vent, weights, preload), zero of the load channel, a head of liquid",
    "highest load": "overshoot: rate, control and stiffness of the source; then the load channel",
}

CYCLES: Hints = {
    "zero return": "a bond that creeps or settles, load still on, drift of temperature or amplifier, a yielded part",
    "hysteresis": "slip in bond, clamp or joint, a bond that creeps, load not steady while it was read",
    "repeatability": "a loose joint or lead, drift, a load that does not sit the same, too few exercise cycles",
    "linearity": "an amplifier at the end of its range, slack at low load, a part that starts to yield",
}
