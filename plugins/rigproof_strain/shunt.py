"""Shunt calibration: a known resistor across an arm of the bridge stands for a known change.

By Thevenin's theorem the bridge seen between the two terminals of the resistor is one source: the voltage v that stood
there and one resistance Rt. Closing the relay lowers the voltage to v Rs/(Rs + Rt) — exact for any leads, any start
unbalance and any size of step. Floats or arrays of equal shape.
"""

from __future__ import annotations

import numpy as np

from rigproof.models import Numbers
from rigproof_strain import checks


def output_change(share: Numbers, source_ohm: Numbers, shunt_ohm: Numbers) -> Numbers:
    """Change of bridge output (V/V, negative) when `shunt_ohm` is put across the active arm.

    `share` is the part of the excitation that stood between the resistor's terminals (1/2 + start output),
    `source_ohm` the resistance of the bridge between them with the excitation shorted.
    """
    return -share * source_ohm / (source_ohm + shunt_ohm)


def equivalent_strain(gauge_ohm: Numbers, gauge_factor: Numbers, shunt_ohm: Numbers) -> Numbers:
    """Strain (negative) that `shunt_ohm` directly across the gauge stands for: -Rg/(GF (Rg + Rs)), exact."""
    _packet(gauge_ohm, gauge_factor)
    checks.positive("shunt_ohm", shunt_ohm, "give the resistor's value in Ω")
    return -gauge_ohm / (gauge_factor * (gauge_ohm + shunt_ohm))


def opposite_strain(gauge_ohm: Numbers, gauge_factor: Numbers, shunt_ohm: Numbers) -> Numbers:
    """Strain (positive) that `shunt_ohm` across an adjacent arm of `gauge_ohm` stands for: Rg/(GF Rs), exact.

    More than across the gauge by the factor 1 + Rg/Rs, not its mirror image (trade.md 2.4).
    """
    _packet(gauge_ohm, gauge_factor)
    checks.positive("shunt_ohm", shunt_ohm, "give the resistor's value in Ω")
    return gauge_ohm / (gauge_factor * shunt_ohm)


def resistor_for(gauge_ohm: Numbers, gauge_factor: Numbers, strain: Numbers) -> Numbers:
    """Resistor (Ω) that stands for `strain`: the inverse of `equivalent_strain`, and of `opposite_strain`.

    Compression (< 0): across the gauge, Rg/(GF |e|) - Rg. Tension (> 0): across the adjacent arm, Rg/(GF e). Raises
    NumberError for a strain of 0 and for a compression of 1/GF or more, which no resistor gives.
    """
    _packet(gauge_ohm, gauge_factor)
    size: Numbers = np.abs(strain)
    checks.positive("|strain|", size, "no resistor stands for no strain")
    checks.positive("1/GF + strain", 1 / gauge_factor + strain, "even a short circuit of the gauge gives only -1/GF")
    across_ohm = gauge_ohm / (gauge_factor * size)
    return across_ohm - gauge_ohm * np.less(strain, 0)


def _packet(gauge_ohm: Numbers, gauge_factor: Numbers) -> None:
    checks.positive("gauge_ohm", gauge_ohm, "give the gauge's resistance in Ω")
    checks.positive("gauge_factor", gauge_factor, "give the packet's, about 2 for metal foil")
