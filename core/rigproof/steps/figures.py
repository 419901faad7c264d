"""Figures of merit of load cycles, each with its budget.

Definitions, in own words, after OIML R 60-1:2021, 3.7 (seen): hysteresis is the difference at one load between the
ascending and the descending branch; linearity the departure of the averaged readings from the straight line through
zero and top load; repeatability the difference between readings of identical loadings. Zero return is the change of
the zero reading over a cycle (ISO 376, from memory). All are shares of the reading at top load. Readings are compared
at equal load: a small difference of load is taken out with the channel's own slope.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import inf

import numpy as np

from rigproof.documents.rig import Rig
from rigproof.instruments import FloatArray
from rigproof.models import Numbers
from rigproof.quantities import Quantity, kind_of
from rigproof.uncertainty import Input, Rule, StraightLine, fit_line
from rigproof.verdict.record import Check

from .checks import Stated, Subject, specified_check, standing, value_of
from .guard import STRAIN_ORIGIN, agreement, missing
from .record import Block, StepRecord
from .strains import rise, strain_between, thermometer, thermometers, without_warmth
from .terms import (
    Term,
    change,
    combine,
    drift_input,
    gain_input,
    predicted_strain,
    raw_unit,
    strain,
    usable,
)

HARDLY_ANSWERS = 0.05  # below this share of the expected strain the other figures are shares of nothing


At = tuple[int, str, range | tuple[int, ...]]  # level, direction, cycles


@dataclass(frozen=True)
class ChannelSeries:
    """The readings of one channel over all judged cycles. Levels count from 1 to `top`, cycles from 1 to `times`."""

    rig: Rig
    name: str
    load: str  # the channel that measures the load
    zeros: list[Block]  # one before the first cycle, one after each
    levels: list[Block]
    top: int
    times: int

    @cached_property
    def of_strain(self) -> tuple[str, ...]:
        """The channels the strain is worked out from: its own and, where there is one, that of its temperature."""
        return self.name, *thermometers(self.rig, (self.name,))

    @property
    def usable(self) -> bool:
        """False where a reading of the channel or of the load is missing."""
        return all(usable(block[name]) for block in self.zeros + self.levels for name in (self.load, *self.of_strain))

    def raw(self, channel: str, at: At) -> FloatArray:
        """Raw samples at a level over some cycles, each moved onto the zero of the first cycle."""
        level, direction, cycles = at
        return np.concatenate(
            [
                block[channel] + self._moves[channel][block.tags["cycle"] - 1]
                for block in self.levels
                if block.tags["level"] == level
                and block.tags["direction"] == direction
                and block.tags["cycle"] in cycles
            ]
        )

    @cached_property
    def _moves(self) -> dict[str, list[float]]:
        """By channel: from the zero before each cycle to the first one."""
        names = (self.load, *self.of_strain)
        means = {name: [float(np.mean(block[name])) for block in self.zeros] for name in names}
        return {name: [of_channel[0] - mean for mean in of_channel] for name, of_channel in means.items()}

    @property
    def all_cycles(self) -> range:
        """Every judged cycle."""
        return range(1, self.times + 1)

    def at(self, where: At) -> tuple[Term, Term]:
        """Strain and load at a level, both counted from the first zero."""
        if where not in self._known:
            level, direction, cycles = where
            label = f"level {level} {direction}, cycle {'-'.join(str(c) for c in cycles)}"
            now = {name: self.raw(name, where) for name in self.of_strain}
            strain_now = strain_between(self.rig, self.name, now, self.zeros[0], label)
            channel, unit = self.rig.channels[self.load], kind_of(self.rig.part.load).base
            load_now = change(channel, self.raw(self.load, where), self.zeros[0][self.load], label, unit)
            self._known[where] = strain_now, load_now
        return self._known[where]

    @cached_property
    def _known(self) -> dict[At, tuple[Term, Term]]:
        """What `at` has made: several figures look at the same level."""
        return {}

    @property
    def peak(self) -> Term:
        """Strain at top load over all cycles."""
        return self.at((self.top, "up", self.all_cycles))[0]

    @cached_property
    def slope(self) -> float:
        """Strain per load at nominal values, for taking small differences of load out."""
        strain_now, load_now = self.at((self.top, "up", self.all_cycles))
        return value_of(strain_now) / value_of(load_now)

    def fit(self, channel: str) -> StraightLine:
        """A channel against the load over all judged cycles, both directions, each point a mean from its own zero."""
        loads, outputs = [0.0], [0.0]
        for block in self.levels:
            zero = self.zeros[block.tags["cycle"] - 1]
            loads.append(float(np.mean(block[self.load]) - np.mean(zero[self.load])))
            outputs.append(float(np.mean(block[channel]) - np.mean(zero[channel])))
        return fit_line(np.array(loads), np.array(outputs))

    def answer(self, top: float) -> tuple[Term, Term]:
        """Strain per load up to `top`, measured and expected; what warmed along with the load is taken out."""
        start = _exact(f"{self.name} zero", float(np.mean(self.zeros[0][self.name])), "V/V")
        line, per_load = self.fit(self.name), f"V/V per {kind_of(self.rig.part.load).base}"
        u = float(np.sqrt(line.covariance[1, 1]))
        slope = Input("slope", line.slope, u, line.dof, "t", per_load, source="straight line through the readings")
        measured, expected = sensitivity_terms(self.rig, self.name, self.load, top, slope, start)
        beside = thermometer(self.rig, self.name)
        if beside is None:
            return measured, expected
        # the scatter of the temperatures is in that of the outputs already
        cold = float(np.mean(self.zeros[0][beside]))
        warm = cold + self.fit(beside).slope * top
        unit = raw_unit(self.rig.channels[beside])
        zero, end = (_exact(f"{beside} {at}", value, unit) for at, value in (("zero", cold), ("top", warm)))
        warmer = rise(self.rig, beside, end, zero, "slope")
        at_top = combine(lambda per_load: per_load * top, measured)
        return combine(lambda shown: shown / top, without_warmth(self.rig, self.name, at_top, warmer)), expected


def _exact(name: str, value: float, unit: str) -> Input:
    return Input(name, value, 0.0, inf, "exact", unit, source="mean of readings")


def sensitivity_terms(rig: Rig, name: str, load: str, top: float, slope: Input, zero: Input) -> tuple[Term, Term]:
    """Measured and predicted strain per load, both at `top`: (measured, expected), 1/Pa or 1/N."""
    full = strain(rig, name, slope.named(f"{name} slope"), zero, "slope")

    def measured(per_load: Numbers, start: Numbers, gain: Numbers, drift: Numbers, *inputs: Numbers) -> Numbers:
        return full.function(start + per_load * top, start, gain, drift, *inputs) / top

    channel = rig.channels[load]
    true_load = Term(
        lambda gain, drift: top * (1 + gain) + drift,
        (gain_input(channel), drift_input(channel, "slope", kind_of(rig.part.load).base)),
    )
    expected = combine(lambda value: value / top, predicted_strain(rig, name, true_load))
    return Term(measured, full.inputs), expected


SENSITIVITY_KINDS = {
    "gauge pressure": "strain per pressure",
    "force": "strain per force",
    "torque": "strain per torque",
}


def figure_checks(
    series: ChannelSeries, record: StepRecord, rule: Rule, to: Quantity, limits: Mapping[str, Stated]
) -> list[Check]:
    """Sensitivity against the part model, then the four figures against their limits."""
    about = Subject("sensitivity", series.name, SENSITIVITY_KINDS[series.rig.part.load], f"0 to {to.text}")
    if not series.usable:
        return [missing(record, about, "overload or open circuit")]
    measured, expected = series.answer(to.value)
    checks = [agreement(record, about, measured, expected, rule, STRAIN_ORIGIN)]
    if abs(value_of(measured)) < HARDLY_ANSWERS * abs(value_of(expected)):
        return checks
    for name, candidates in _figures(series).items():
        limit = limits[name]
        tried = [
            specified_check(
                record, Subject(name, series.name, "ratio", at), figure.estimate(), limit.tolerance, rule, limit.origin
            )
            for figure, at in candidates
        ]
        checks.append(min(tried, key=standing))
    return checks


def _figures(series: ChannelSeries) -> dict[str, list[tuple[Term, str]]]:
    """The figures as shares of the reading at top load, each wherever it can be looked at."""
    below_top = range(1, series.top)
    return {
        "zero return": [_zero_return(series, cycle) for cycle in series.all_cycles],
        "hysteresis": [_hysteresis(series, level) for level in below_top],
        "repeatability": [
            *(_repeatability(series, level, "up") for level in (*below_top, series.top)),
            *(_repeatability(series, level, "down") for level in below_top),
        ],
        "linearity": [_linearity(series, level) for level in below_top],
    }


def _zero_return(series: ChannelSeries, cycle: int) -> tuple[Term, str]:
    """(zero after the cycle - zero before all cycles) / peak, less the strain of whatever load was left."""
    slope, label, channel = series.slope, f"zero {cycle}", series.rig.channels[series.load]
    left = strain_between(series.rig, series.name, series.zeros[cycle], series.zeros[0], label)
    load = change(
        channel,
        series.zeros[cycle][series.load],
        series.zeros[0][series.load],
        label,
        kind_of(series.rig.part.load).base,
    )
    return combine(lambda zero, p, peak: (zero - slope * p) / peak, left, load, series.peak), f"after cycle {cycle}"


def _difference(series: ChannelSeries, a: At, b: At) -> Term:
    """(reading a - reading b) / peak at equal load."""
    slope = series.slope

    def figure(sa: Numbers, sb: Numbers, la: Numbers, lb: Numbers, peak: Numbers) -> Numbers:
        return ((sa - sb) - slope * (la - lb)) / peak

    strain_a, load_a = series.at(a)
    strain_b, load_b = series.at(b)
    return combine(figure, strain_a, strain_b, load_a, load_b, series.peak)


def _hysteresis(series: ChannelSeries, level: int) -> tuple[Term, str]:
    cycles = series.all_cycles
    return _difference(series, (level, "down", cycles), (level, "up", cycles)), f"level {level} of {series.top}"


def _repeatability(series: ChannelSeries, level: int, direction: str) -> tuple[Term, str]:
    """Largest difference between two cycles at one level in one direction."""
    at_load = {}
    for cycle in series.all_cycles:
        strain_now, load_now = series.at((level, direction, (cycle,)))
        at_load[cycle] = value_of(strain_now) - series.slope * value_of(load_now)
    high = max(at_load, key=at_load.__getitem__)
    low = min(
        (cycle for cycle in at_load if cycle != high), key=at_load.__getitem__
    )  # never itself where all are alike
    figure = _difference(series, (level, direction, (high,)), (level, direction, (low,)))
    return figure, f"level {level} {direction}, cycles {high} and {low}"


def _linearity(series: ChannelSeries, level: int) -> tuple[Term, str]:
    """(reading - reading at top x load / top load) / reading at top, ascending."""

    def figure(reading: Numbers, load: Numbers, peak: Numbers, top: Numbers) -> Numbers:
        return reading / peak - load / top

    cycles = series.all_cycles
    term = combine(figure, *series.at((level, "up", cycles)), *series.at((series.top, "up", cycles)))
    return term, f"level {level} of {series.top}"
