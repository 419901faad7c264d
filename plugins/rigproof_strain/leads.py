"""What the resistance of the leads does to a resistance gauge. `lead_ohm` is always ONE conductor.

Floats or arrays of equal shape. Relations as in Dally and Riley, Experimental Stress Analysis (from memory).
"""

from __future__ import annotations

from rigproof.models import Numbers
from rigproof_strain import checks

COPPER_PER_K = 0.0039  # temperature coefficient of resistance of copper near 20 °C, 1/K (from memory)


def desensitisation(gauge_ohm: Numbers, in_arm_ohm: Numbers) -> Numbers:
    """Share of the gauge's relative resistance change that its arm shows: Rg/(Rg + Rin), exact.

    `in_arm_ohm` is the lead resistance in series with the gauge inside its arm: two conductors for a two-wire
    gauge, one for a three-wire gauge or an outer arm of a half bridge. Raises NumberError for a gauge of 0 Ω or less
    and for a negative lead.
    """
    checks.positive("gauge_ohm", gauge_ohm, "give the gauge's resistance in Ω")
    checks.not_negative("in_arm_ohm", in_arm_ohm, "give the resistance of the conductors in Ω, 0 for none")
    return gauge_ohm / (gauge_ohm + in_arm_ohm)


def false_strain(gauge_ohm: Numbers, gauge_factor: Numbers, before_ohm: Numbers, after_ohm: Numbers) -> Numbers:
    """Strain that a two-wire gauge shows falsely when each of its conductors goes from `before_ohm` to `after_ohm`.

    As reduced with the leads `before_ohm` taken into account: 2 dRL/(GF Rg). A three-wire gauge shows none while its
    two current leads stay alike; when they part by dRL it shows dRL/(GF Rg) in the same way.
    """
    checks.positive("gauge_ohm", gauge_ohm, "give the gauge's resistance in Ω")
    checks.positive("gauge_factor", gauge_factor, "give the packet's, about 2 for metal foil")
    return 2 * (after_ohm - before_ohm) / (gauge_factor * gauge_ohm)


def false_strain_per_k(
    gauge_ohm: Numbers, gauge_factor: Numbers, lead_ohm: Numbers, per_k: Numbers = COPPER_PER_K
) -> Numbers:
    """Strain per kelvin of its leads that a two-wire gauge shows falsely; see `false_strain`. On three wires: none."""
    return false_strain(gauge_ohm, gauge_factor, lead_ohm, lead_ohm * (1 + per_k))
