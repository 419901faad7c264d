"""Shunt calibration: a known resistor across an arm of the bridge stands for a known change.

By Thevenin's theorem the bridge seen between the two terminals of the resistor is one source: the voltage v that stood
there and one resistance Rt. Closing the relay lowers the voltage to v Rs/(Rs + Rt) — exact for any leads, any start
unbalance and any size of step. Floats or arrays of equal shape.
"""

from __future__ import annotations

from rigproof.models import Numbers


def output_change(share: Numbers, source_ohm: Numbers, shunt_ohm: Numbers) -> Numbers:
    """Change of bridge output (V/V, negative) when `shunt_ohm` is put across the active arm.

    `share` is the part of the excitation that stood between the resistor's terminals (1/2 + start output),
    `source_ohm` the resistance of the bridge between them with the excitation shorted.
    """
    return -share * source_ohm / (source_ohm + shunt_ohm)


def equivalent_strain(gauge_ohm: Numbers, gauge_factor: Numbers, shunt_ohm: Numbers) -> Numbers:
    """Strain (negative) that `shunt_ohm` directly across the gauge stands for: -Rg/(GF (Rg + Rs)), exact."""
    return -gauge_ohm / (gauge_factor * (gauge_ohm + shunt_ohm))


def resistor_for(gauge_ohm: Numbers, gauge_factor: Numbers, strain: Numbers) -> Numbers:
    """Resistor (Ω) that must lie directly across the gauge to stand for `strain` (compression, < 0).

    Rs = Rg/(GF |e|) - Rg, the inverse of `equivalent_strain`. A gauge cannot be shunted into tension: a positive
    strain gives a negative resistance.
    """
    return -gauge_ohm / (gauge_factor * strain) - gauge_ohm
