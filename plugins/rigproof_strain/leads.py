"""What the resistance of the leads does to a resistance gauge. `lead_ohm` is always ONE conductor.

Floats or arrays of equal shape. Relations as in Dally and Riley, Experimental Stress Analysis (from memory).
"""

from __future__ import annotations

from rigproof.models import Numbers


def desensitisation(gauge_ohm: Numbers, in_arm_ohm: Numbers) -> Numbers:
    """Share of the gauge's relative resistance change that its arm shows: Rg/(Rg + Rin), exact.

    `in_arm_ohm` is the lead resistance in series with the gauge inside its arm: two conductors for a two-wire
    gauge, one for a three-wire gauge or an outer arm of a half bridge.
    """
    return gauge_ohm / (gauge_ohm + in_arm_ohm)


def false_strain(gauge_ohm: Numbers, gauge_factor: Numbers, before_ohm: Numbers, after_ohm: Numbers) -> Numbers:
    """Strain that a two-wire gauge shows falsely when each of its conductors goes from `before_ohm` to `after_ohm`.

    As reduced with the leads `before_ohm` taken into account: 2 dRL/(GF Rg). A three-wire gauge shows none while its
    two current leads stay alike; when they part by dRL it shows dRL/(GF Rg) in the same way.
    """
    return 2 * (after_ohm - before_ohm) / (gauge_factor * gauge_ohm)
