"""Strain between two blocks of readings, less what warmth alone makes a channel show.

A gauge that names its `temperature` channel has that channel read beside every block of its strain (see
`run.live.LiveRig.read`). What is left of its thermal output is the mismatch of part and gauge and, on two wires, the
leads: known well enough to be taken out, and what is not known of it stands in the budget (ASTM E251 and OIML R 62
name the quantity).
"""

from __future__ import annotations

from typing import Protocol

import numpy as np

from rigproof.documents.rig import Rig
from rigproof.errors import NumberError
from rigproof.instruments import FloatArray
from rigproof.models import Numbers
from rigproof.uncertainty import Input

from .terms import (
    Term,
    bridge,
    combine,
    drift_input,
    gain_input,
    prefixed,
    raw_unit,
    reading_input,
    reduction_inputs,
    strain,
    usable,
)


class Readings(Protocol):
    """Raw readings by channel, such as a `record.Block`."""

    def __getitem__(self, channel: str, /) -> FloatArray: ...


def thermometer(rig: Rig, name: str) -> str | None:
    """The channel whose readings take the thermal output out of strain channel `name`; None where it is not stated."""
    gauge = rig.channels[name].gauge
    return rig.gauges[gauge].temperature if gauge is not None and rig.part.expansion() is not None else None


def thermometers(rig: Rig, channels: tuple[str, ...]) -> tuple[str, ...]:
    """The temperature channels to be read beside these channels, those among them left out."""
    bridges = [name for name in channels if rig.channels[name].measures == "strain"]
    found = dict.fromkeys(thermometer(rig, name) for name in bridges)
    return tuple(name for name in found if name is not None and name not in channels)


def strain_between(rig: Rig, name: str, now: Readings, zero: Readings, label: str) -> Term:
    """Strain of a bridge channel between two blocks, thermal output taken out; `label` names the later one.

    Raises `NumberError` where the temperature that belongs to it was not read.
    """
    reading = reading_input(f"{name} {label}", now[name], "V/V")
    shown = strain(rig, name, reading, reading_input(f"{name} zero", zero[name], "V/V"), label)
    beside = thermometer(rig, name)
    if beside is None:
        return shown
    # Read once beside each block, and taken for exact: what it did from block to block the strain did with it.
    warm, cold = {beside: _middle(now[beside])}, {beside: _middle(zero[beside])}
    return without_warmth(rig, name, shown, rise_between(rig, beside, warm, cold, label))


def _middle(samples: FloatArray) -> FloatArray:
    return np.array([np.mean(samples)])


def rise_between(rig: Rig, name: str, now: Readings, zero: Readings, label: str) -> Term:
    """Rise (K) of a temperature channel between two blocks, through its reduction.

    Raises `NumberError` where a reading is missing.
    """
    if not (usable(now[name]) and usable(zero[name])):
        raise NumberError(f"{name}: no temperature at {label}: overload or open circuit; look at the sensor's wires")
    unit = raw_unit(rig.channels[name])
    later = reading_input(f"{name} {label}", now[name], unit)
    return rise(rig, name, later, reading_input(f"{name} zero", zero[name], unit), label)


def rise(rig: Rig, name: str, now: Input, zero: Input, label: str) -> Term:
    """Rise (K) of a temperature channel between two raw readings given as inputs; a fixed error cancels."""
    channel, model = rig.channels[name], rig.channels[name].reduction
    inputs = now, zero, gain_input(channel), drift_input(channel, label, now.unit)
    if model is None:
        return Term(lambda later, start, gain, drift: (later - start) * (1 + gain) + drift, inputs)

    def function(later: Numbers, start: Numbers, gain: Numbers, drift: Numbers, *of_model: Numbers) -> Numbers:
        warm = model.reduce(later * (1 + gain) + drift, 0.0, *of_model)
        return warm - model.reduce(start * (1 + gain), 0.0, *of_model)

    return Term(function, (*inputs, *reduction_inputs(rig, name)))


def without_warmth(rig: Rig, name: str, shown: Term, warmer: Term) -> Term:
    """The strain term `shown` less what a rise of `warmer` (K) alone makes the channel show."""
    return combine(lambda strain, of_warmth: strain - of_warmth, shown, thermal_output(rig, name, warmer))


def thermal_output(rig: Rig, name: str, warmer: Term) -> Term:
    """What a rise of `warmer` (K) alone makes a strain channel show."""
    _, model, of_bridge = bridge(rig, name)
    gauge, part = rig.gauges[rig.channels[name].gauge or ""], rig.part.expansion()
    assert gauge.compensated_for is not None, "checked when the documents were read"
    assert part is not None, "see `thermometer`"
    own = gauge.compensated_for.input("compensated for")
    (compensated,) = prefixed(name, (own,), (gauge, f"gauges.{gauge.name}"))
    n_rise = len(warmer.inputs)

    def thermal(part_per_k: Numbers, compensated_per_k: Numbers, *rest: Numbers) -> Numbers:
        kelvin = warmer.function(*rest[:n_rise])
        return model.thermal(part_per_k, compensated_per_k, kelvin, *rest[n_rise:])

    (of_part,) = prefixed("part", (part,), (rig.part, "part"))
    return Term(thermal, (of_part, compensated, *warmer.inputs, *of_bridge))
