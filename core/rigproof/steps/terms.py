"""From raw readings to physical quantities with their budgets: the measurement functions all steps share.

A `Term` is a plain function of named uncertain inputs. Terms are combined by name: an input that two terms share
(a gauge's transverse sensitivity in the measured and in the predicted strain) is one input of the budget, so that
its effect cancels or adds as it does in nature (GUM 5.2, F.1.2.4).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import hypot, inf, isfinite, sqrt

import numpy as np

from rigproof.documents.rig import Channel, Rig
from rigproof.instruments import FloatArray
from rigproof.models import BridgeModel, DocumentModel, Numbers
from rigproof.quantities import Spread, Uncertain, kind_of
from rigproof.uncertainty import Budget, Estimate, Input, Shape, first_order_law, mean_and_u


@dataclass(frozen=True)
class Term:
    """A quantity as a function of uncertain inputs (names unique within a rig)."""

    function: Callable[..., Numbers]
    inputs: tuple[Input, ...]

    def estimate(self) -> Estimate:
        """Value and uncertainty, from this term's own inputs."""
        return Budget(self.function, self.inputs).evaluate()

    def expanded(self, coverage: float) -> float:
        """U for `coverage`, by first order."""
        return first_order_law(self.estimate()).coverage(coverage)[1]


def combine(operation: Callable[..., Numbers], *terms: Term) -> Term:
    """The term `operation(term values…)`; inputs of one name are one input."""
    unique: dict[str, Input] = {}
    for term in terms:
        for item in term.inputs:
            unique.setdefault(item.name, item)
    order = {name: position for position, name in enumerate(unique)}
    places = [[order[item.name] for item in term.inputs] for term in terms]
    parts = list(zip([term.function for term in terms], places, strict=True))

    def function(*values: Numbers) -> Numbers:
        return operation(*[part(*[values[i] for i in where]) for part, where in parts])

    return Term(function, tuple(unique.values()))


MEASURED = "as measured in this run"  # how a value is stated that took the place of a document's


def prefixed(prefix: str, inputs: tuple[Input, ...], *models: tuple[DocumentModel, str]) -> tuple[Input, ...]:
    """The same inputs, named after what they belong to, traced to the first of `models` (model, path) that has it."""
    return tuple(item.named(f"{prefix} {item.name}", _source(item, models)) for item in inputs)


def _source(item: Input, models: Sequence[tuple[DocumentModel, str]]) -> str:
    if item.stated == MEASURED:
        return MEASURED
    keys = (item.name, item.name.removeprefix("gauge "))  # a bridge's `gauge resistance` is the gauge's `resistance`
    found = (model.source_of(path, key) for key in keys for model, path in models)
    return next(filter(None, found), "the model")


def part_inputs(rig: Rig) -> tuple[Input, ...]:
    """The inputs of the part model, named after the part."""
    return prefixed("part", rig.part.inputs(), (rig.part, "part"))


def reduction_inputs(rig: Rig, name: str) -> tuple[Input, ...]:
    """The inputs of a channel's reduction, named after the channel; none where nothing is reduced."""
    channel = rig.channels[name]
    model = channel.reduction
    if model is None:
        return ()
    gauges = [rig.gauges[channel.gauge]] if channel.gauge else []
    of_gauges = [(gauge, f"gauges.{gauge.name}") for gauge in gauges]
    return prefixed(name, model.inputs(gauges), (model, f"channels.{name}.reduction"), *of_gauges)


def reading_input(name: str, samples: FloatArray, unit: str) -> Input:
    """The mean of repeated readings as an input (GUM 4.2: Type A). One reading alone carries no scatter of its own."""
    if len(samples) < 2:
        return Input(name, float(samples[0]), 0.0, inf, "exact", unit, source="reading, taken as exact")
    mean, u, dof = mean_and_u(samples)
    shape: Shape = "t" if isfinite(dof) else "normal"
    return Input(name, mean, u, dof, shape, unit, source=f"mean of {len(samples)} readings")


def raw_unit(channel: Channel) -> str:
    """The base unit of a difference of two raw readings."""
    return kind_of(kind_of(channel.reads).difference).base


def usable(samples: FloatArray) -> bool:
    """False where a reading is missing: overload, open circuit, not a number."""
    return bool(len(samples)) and bool(np.isfinite(samples).all())


def gain_input(channel: Channel) -> Input:
    """What is added to a reading in proportion to it: its correction, or 0, known as well as stated."""
    spread = channel.accuracy.of_reading
    u = spread.u_relative if spread else 0.0
    return _accuracy(channel, "of reading", "", spread, u, "1", channel.correction.of_reading)


def drift_input(channel: Channel, label: str, unit: str) -> Input:
    """What the channel's zero may do between its zero reading and the reading `label`; resolution by GUM F.2.2.1."""
    spread = channel.accuracy.zero_drift
    u = sqrt((spread.u_absolute if spread else 0.0) ** 2 + 2 * _u_resolution(channel) ** 2)
    return _accuracy(channel, "zero drift", f", {label}", spread, u, unit)


def fixed_input(channel: Channel, unit: str) -> Input:
    """What is added to any reading alike: its correction, or 0, known as well as stated, resolution included."""
    spread = channel.accuracy.fixed
    u = sqrt((spread.u_absolute if spread else 0.0) ** 2 + _u_resolution(channel) ** 2)
    return _accuracy(channel, "fixed", "", spread, u, unit, channel.correction.fixed)


def _accuracy(
    channel: Channel, key: str, label: str, spread: Spread | None, u: float, unit: str, known: Uncertain | None = None
) -> Input:
    """An input from a key of the channel's accuracy: 0, or the correction that is `known`; exact where nobody wrote.

    What the accuracy says beside a correction adds in quadrature (GUM 5.1.2).
    """
    step = channel.accuracy.resolution if unit != "1" else None
    written = [(f"accuracy.{key}", spread.text)] if spread else []
    written += [("accuracy.resolution", f"resolution {step.text}")] if step else []
    written += [(f"correction.{key}", f"correction {known.text}")] if known else []
    keys = " and ".join(place for place, _ in written) or f"accuracy.{key}"
    source = f"{'rig.yaml' if written else 'default'}: channels.{channel.name}.{keys}"
    name, stated = f"{channel.name}: accuracy {key}{label}", ", ".join(text for _, text in written)
    shape: Shape = spread.shape if spread else "rectangular" if u else "exact"
    value, both, dof = (known.value, hypot(known.u, u), known.dof) if known else (0.0, u, inf)
    if known and known.u:
        # Welch-Satterthwaite (GUM G.4.1): what the accuracy states has infinite degrees of freedom.
        dof, shape = (dof * (both / known.u) ** 4, "normal") if u else (dof, known.shape)
    return Input(name, value, both, dof, shape, unit, stated=stated, source=source)


def _u_resolution(channel: Channel) -> float:
    step = channel.accuracy.resolution
    return step.value / sqrt(12) if step else 0.0


def absolute(channel: Channel, samples: FloatArray, label: str, unit: str) -> Term:
    """A reading corrected, with the whole accuracy of its channel: reading (1 + gain) + fixed error."""

    def function(reading: Numbers, gain: Numbers, fixed: Numbers) -> Numbers:
        return reading * (1 + gain) + fixed

    return Term(function, (reading_input(label, samples, unit), gain_input(channel), fixed_input(channel, unit)))


def change(
    channel: Channel, samples: FloatArray, zero: FloatArray, label: str, unit: str, zero_label: str = "zero"
) -> Term:
    """Change of a reading against an earlier one: fixed errors cancel, the zero may have drifted.

    `zero_label` tells zeros apart where a budget has several.
    """

    def function(reading: Numbers, start: Numbers, gain: Numbers, drift: Numbers) -> Numbers:
        return (reading - start) * (1 + gain) + drift

    return Term(
        function,
        (
            reading_input(f"{channel.name} {label}", samples, unit),
            reading_input(f"{channel.name} {zero_label}", zero, unit),
            gain_input(channel),
            drift_input(channel, label, unit),
        ),
    )


def bridge(rig: Rig, name: str) -> tuple[Channel, BridgeModel, tuple[Input, ...]]:
    """The channel, its bridge model and the model's inputs, named after the channel."""
    channel = rig.channels[name]
    model = channel.reduction
    assert isinstance(model, BridgeModel), "checked when the documents were read"
    return channel, model, reduction_inputs(rig, name)


def strain(rig: Rig, name: str, reading: Input, zero: Input, label: str) -> Term:
    """Strain of a bridge channel between two raw outputs (V/V) given as inputs; `label` names the reading."""
    channel, model, inputs = bridge(rig, name)

    def function(now: Numbers, start: Numbers, gain: Numbers, drift: Numbers, *model_inputs: Numbers) -> Numbers:
        return model.reduce(now * (1 + gain) + drift, start * (1 + gain), *model_inputs)

    return Term(function, (reading, zero, gain_input(channel), drift_input(channel, label, "V/V"), *inputs))


def nominal_strain(rig: Rig, name: str, outputs: FloatArray, zero: float) -> FloatArray:
    """Strain at nominal inputs: for figures where only differences within one channel matter."""
    _, model, inputs = bridge(rig, name)
    return np.asarray(model.reduce(outputs, zero, *(item.value for item in inputs)), dtype=np.float64)


def predicted_strain(rig: Rig, name: str, load: Term) -> Term:
    """What a bridge channel ought to show under `load`: the part model, seen through the gauge."""
    channel, model, gauge_inputs = bridge(rig, name)
    assert channel.gauge is not None, "checked when the documents were read"
    place = rig.gauges[channel.gauge].at
    of_part = part_inputs(rig)
    n_load, n_part = len(load.inputs), len(of_part)

    def function(*values: Numbers) -> Numbers:
        value = load.function(*values[:n_load])
        along, across = rig.part.strain(value, place, *values[n_load : n_load + n_part])
        return model.apparent(along, across, *values[n_load + n_part :])

    return Term(function, (*load.inputs, *of_part, *gauge_inputs))


def predicted_output(rig: Rig, name: str, load: Term) -> Term:
    """Bridge output (V/V) from balance that a sound channel gives under `load`."""
    return output_for(rig, name, predicted_strain(rig, name, load))


def output_for(rig: Rig, name: str, shown: Term) -> Term:
    """Bridge output (V/V) from balance with which a channel shows the strain `shown`: the reduction, turned round.

    By secants, since any model may stand there; they end when rounding does.
    """
    _, model, gauge_inputs = bridge(rig, name)

    def function(wanted: Numbers, *inputs: Numbers) -> Numbers:
        low, high = np.zeros_like(wanted), np.full_like(wanted, 1e-4)
        at_low, at_high = (np.asarray(model.reduce(r, 0.0, *inputs) - wanted) for r in (low, high))
        for _ in range(20):
            slope = at_high - at_low
            arrived = slope == 0
            step = np.where(arrived, 0.0, at_high * (high - low) / np.where(arrived, 1.0, slope))
            if not step.any():
                break
            low, high, at_low = high, high - step, at_high
            at_high = np.asarray(model.reduce(high, 0.0, *inputs) - wanted)
        return high if high.ndim else float(high)

    return combine(function, shown, *(Term(lambda value: value, (item,)) for item in gauge_inputs))
