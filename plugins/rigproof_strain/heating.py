"""Self-heating: the power that the excitation leaves in a grid. Floats or arrays of equal shape, SI units.

The figure that counts is power per grid area: it says how much warmer the grid is than the part.
"""

from __future__ import annotations

import numpy as np

from rigproof.models import Numbers
from rigproof_strain import checks

# Usual power densities, W/m², by what carries the heat off: from memory (a table in Dally and Riley, Experimental
# Stress Analysis, collected in trade.md 2.5), orders of magnitude only. Prove it: halve the excitation, watch the zero.
GUIDE_W_PER_M2 = {
    "thick aluminium or copper": (8e3, 16e3),
    "thick steel": (3e3, 8e3),
    "thin steel": (1.6e3, 3e3),
    "composite or ceramic": (300.0, 800.0),
    "plastic": (30.0, 80.0),
}


def power_w(excitation_v: Numbers, gauge_ohm: Numbers, partner_ohm: Numbers | None = None) -> Numbers:
    """Power in one gauge: V² Rg/(Rg + R2)², R2 the other arm of its half; V²/(4 Rg) when both are alike."""
    checks.finite("excitation_v", excitation_v, "give the bridge voltage in V")
    checks.positive("gauge_ohm", gauge_ohm, "give the gauge's resistance in Ω")
    other_ohm = gauge_ohm if partner_ohm is None else partner_ohm
    checks.not_negative("partner_ohm", other_ohm, "give the resistance in series with the gauge in Ω")
    return gauge_ohm * (excitation_v / (gauge_ohm + other_ohm)) ** 2


def density_w_per_m2(excitation_v: Numbers, gauge_ohm: Numbers, grid_m2: Numbers) -> Numbers:
    """Power per area of one grid in a bridge of equal arms, W/m² (1 mW/mm² is 1000 W/m²)."""
    checks.positive("grid_m2", grid_m2, "give the grid's area, its length times its width, in m²")
    return power_w(excitation_v, gauge_ohm) / grid_m2


def largest_excitation_v(gauge_ohm: Numbers, grid_m2: Numbers, density: Numbers) -> Numbers:
    """Bridge voltage at which a grid in a bridge of equal arms takes `density` (W/m²): 2 sqrt(Rg A q)."""
    checks.positive("gauge_ohm", gauge_ohm, "give the gauge's resistance in Ω")
    checks.positive("grid_m2", grid_m2, "give the grid's area, its length times its width, in m²")
    checks.positive("density", density, "give a power density in W/m², such as 5000 on thick steel")
    return 2 * np.sqrt(gauge_ohm * grid_m2 * density)
