"""From the documents to a force cell as built, and its bridge at work."""

from __future__ import annotations

from dataclasses import replace
from math import pi, sqrt, tau
from typing import TYPE_CHECKING

import numpy as np

from rigproof.models import PartModel
from rigproof.quantities import Quantity
from rigproof_twin.as_built import Cell, Gauge
from rigproof_twin.document import Body
from rigproof_twin.draw import Streams
from rigproof_twin.fields import field_of
from rigproof_twin.four_gauges import FourGauges
from rigproof_twin.physics.cylinder import Response
from rigproof_twin.physics.gauge import REFERENCE_C
from rigproof_twin.physics.history import Strained
from rigproof_twin.refusal import beyond

if TYPE_CHECKING:
    from rigproof.documents.rig import Channel, Rig

# A spring body of quenched and tempered steel; usual figures, from memory.
SPRING_MODULUS_PA, SPRING_POISSON_RATIO, SPRING_PER_K, SPRING_YIELD_PA = 206e9, 0.29, 11.7e-6, 1.0e9
ARMS = 4


def cell(model: PartModel, body: Body, streams: Streams) -> Cell:
    """A column whose true rated output and faults of the body are drawn within what is stated.

    Its diameter is not set before `fit` knows the gauges.
    """
    rated = field_of(model, "rated load")
    assert isinstance(rated, Quantity), "a force"

    def drawn(name: str, most: float) -> list[float]:
        return [streams.uniform(f"cell {name} {arm}", -most, most) for arm in range(1, ARMS + 1)]

    unlike, spread = drawn("gauge", body.gauge_spread.value), body.gauge_spread.value
    # The two along, whose unlikeness lets bending through, differ by half the spread at least: no two are quite alike.
    unlike[0] = streams.uniform("cell pair", spread / 2, spread)
    unlike[2] = -unlike[0]

    return Cell(
        rated_load_n=rated.value,
        rated_output=streams.drawn("part", model, "rated output"),
        elastic_modulus_pa=SPRING_MODULUS_PA,
        poisson_ratio=SPRING_POISSON_RATIO,
        expansion_per_k=SPRING_PER_K,
        yield_strength_pa=SPRING_YIELD_PA,
        nonlinearity=streams.uniform("cell nonlinearity", -body.nonlinearity.value, body.nonlinearity.value),
        hysteresis=streams.uniform("cell hysteresis", 0.0, body.hysteresis.value),
        eccentricity_m=streams.uniform("cell eccentricity", 0.0, body.eccentricity.value),
        towards_rad=streams.uniform("cell towards", 0.0, tau),
        unlike=tuple(unlike),
        unlike_per_k=tuple(drawn("compensation", body.compensation_spread.value)),
    )


def fit(built: Cell, gauge: Gauge) -> None:
    """Give the column the diameter with which its bridge has the true rated output, as its maker did.

    By secants on the solved bridge: no ready formula. Centred, exercised, without creep, counted from the corners of
    the bridge, so that no lead is in it.
    """
    centred, at_corners = replace(built, eccentricity_m=0.0), replace(gauge, sensed=True)

    def departure(strain: float) -> float:
        area = built.rated_load_n / (abs(strain) * built.elastic_modulus_pa)
        centred.diameter_m = 2.0 * sqrt(area / pi)
        work = CellAtWork(centred, at_corners)
        return work.output_at(built.rated_load_n) - work.output_at(0.0) - abs(built.rated_output)

    low, high = 5e-4, 1e-3
    at_low, at_high = departure(low), departure(high)
    for _ in range(20):
        if abs(at_high) < 1e-15 or at_high == at_low:
            break
        low, high, at_low = high, high - at_high * (high - low) / (at_high - at_low), at_high
        at_high = departure(high)
    built.diameter_m = centred.diameter_m


def refuse_other_bridges(rig: Rig, channel: Channel, kind: str) -> None:
    """A force cell has one full bridge, in which its certificate's output stands for a strain of bending."""
    place = ("channels", channel.name, "reduction")
    if kind != "full bridge":
        raise beyond(rig, (*place, "model"), f"the twin has no {kind} on a force cell", ("full bridge",))
    arrangement = field_of(channel.reduction, "arrangement")
    if arrangement != "bending":
        raise beyond(rig, (*place, "arrangement"), f"the twin has no cell of {arrangement}", ("bending",))


class CellAtWork(FourGauges):
    """The four gauges of a cell and the position it stands in."""

    def __init__(self, built: Cell, gauge: Gauge) -> None:
        self._body = built.build()
        fits = built.expansion_per_k if gauge.compensated_for_per_k is None else gauge.compensated_for_per_k
        arms = [
            replace(
                gauge,
                gauge_factor=gauge.gauge_factor * (1.0 + built.unlike[arm]),
                bonding_strain=gauge.bonding_strain * built.unlike[arm] / max(map(abs, (*built.unlike, 1e-12))),
                compensated_for_per_k=fits + built.unlike_per_k[arm],
            ).build(built.expansion_per_k)
            for arm in range(ARMS)
        ]
        super().__init__(gauge, arms, [])

    def felt(self, state: Strained) -> Strained:
        """The load with the loop and the bend of the body."""
        return state._replace(load=self._body.felt(state))

    def responses(self) -> list[Response]:
        """An eccentric force bends the cell, so that its position tells."""
        return [self._body.response(arm, self.rotated_rad).turned(self._gauge.angle_rad) for arm in range(ARMS)]

    def output_at(self, load_n: float) -> float:
        """Output (V/V) without shunt at a load that has come after exercise, at the reference temperature."""
        load = np.array([load_n])
        still = np.zeros(1)
        held = self._body.play_n + load / 2.0  # where the loop's own straight line lies
        state = Strained(still, load, load, still, still, still, held)
        return float(self.bridge_output(state, still + REFERENCE_C, still, 0.0)[0])
