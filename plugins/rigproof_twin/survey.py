"""From the documents to a rig as built: every true value drawn within what rig.yaml and twin.yaml state."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from math import tau
from typing import TYPE_CHECKING, Literal

from rigproof.errors import UsageError
from rigproof.models import PartModel, ReductionModel
from rigproof.quantities import Uncertain
from rigproof.simulation import StandIn
from rigproof_twin.as_built import AsBuilt, Ball, Beam, BridgeInput, Cell, Gauge, Pipe, Sensor, Shaft, Source
from rigproof_twin.beam import beam, shaft, weights
from rigproof_twin.document import READS, Twin
from rigproof_twin.draw import Streams
from rigproof_twin.fields import field_of
from rigproof_twin.force_cell import cell, fit, refuse_other_bridges
from rigproof_twin.instruments.terminals import QUANTITIES
from rigproof_twin.looks import looks
from rigproof_twin.physics.thermal import CLASS_LIMITS_C, TemperatureCourse
from rigproof_twin.refusal import beyond
from rigproof_twin.roles import PRESSES, reads_anything, role

if TYPE_CHECKING:
    from rigproof.documents.rig import Channel, Instrument, Rig

LEAST_OHM = 1e-3  # of a conductor that the document takes as having none
KNOWN_PARTS = ("cylinder", "sphere", "cantilever", "shaft", "force cell")
ENDS: tuple[Literal["closed", "open", "fixed"], ...] = ("closed", "open", "fixed")
KNOWN_BRIDGES = ("quarter bridge",)
FULL = "full bridge"  # of torsion, on a shaft; a cell has its own


def survey(rig: Rig, twin: Twin, streams: Streams) -> AsBuilt:
    """The rig that the documents describe, without flaws.

    Raises `DocumentError` for a part, bridge or sensor the twin has no physics for.
    """
    built = AsBuilt(
        part=_part(rig, twin, streams),
        gauges={
            channel.gauge: _gauge(rig, channel, twin, streams)
            for channel in rig.channels.values()
            if channel.gauge and channel.measures == "strain"
        },
        course=_course(twin, streams),
        source=_source(rig, twin),
        weights=weights(rig, streams),
        pressed=_pressed(rig),
        seed=streams.seed,
    )
    if isinstance(built.part, Cell):
        for gauge in list(built.gauges.values())[:1]:
            fit(built.part, gauge)
    for channel in rig.channels.values():
        _wire(built, rig, channel, twin, streams)
    for name, instrument in rig.instruments.items():
        if role(instrument) == "pressure transmitter" or _pressure_meter(rig, instrument):
            built.transmitters.append(name)
        built.appearances[name] = looks(rig, instrument, twin.instrument(name), streams)
    return built


def _pressure_meter(rig: Rig, instrument: Instrument) -> bool:
    """True for a meter of any quantity that a channel reads pressure with."""
    return reads_anything(instrument) and any(
        channel.instrument == instrument.name and channel.reads == "gauge pressure" for channel in rig.channels.values()
    )


def _part(rig: Rig, twin: Twin, streams: Streams) -> Pipe | Ball | Beam | Shaft | Cell:
    model: PartModel = rig.part
    if model.kind not in KNOWN_PARTS:
        raise beyond(rig, ("part", "model"), f"the twin has no physics for a {model.kind}", KNOWN_PARTS)
    if model.kind == "cantilever":
        return beam(model, streams)
    if model.kind == "shaft":
        return shaft(model, streams)
    if model.kind == "force cell":
        return cell(model, twin.cell, streams)
    if (filling := field_of(model, "filling")) != "water":
        raise beyond(rig, ("part", "filling"), f"the twin has no physics for {filling}", ("water",))
    material = field_of(model, "material")
    drawn = partial(streams.drawn, "part")
    ball = model.kind == "sphere"
    vessel: Callable[..., Pipe | Ball] = Ball if ball else partial(Pipe, ends=_ends(field_of(model, "ends")))
    return vessel(
        outside_diameter_m=drawn(model, "outside diameter"),
        wall_m=drawn(model, "wall"),
        elastic_modulus_pa=drawn(material, "elastic modulus"),
        poisson_ratio=drawn(material, "poisson ratio"),
        expansion_per_k=drawn(material, "expansion"),
        yield_strength_pa=drawn(material, "yield strength"),
        gauges_outside=field_of(model, "gauge surface") == "outside",
        cavity_m3=None if field_of(model, "volume") is None else drawn(model, "volume"),
    )


def _pressed(rig: Rig) -> bool:
    """Whether a press or a drive loads the part; the twin's has no valve to keep the load with."""
    presses = [instrument for instrument in rig.instruments.values() if role(instrument) in PRESSES]
    for press in presses:
        if field_of(press.settings, "isolate") is not None:
            place = ("instruments", press.name, "settings", "isolate")
            raise beyond(rig, place, "the twin's press has no valve", ("a press without `isolate`",))
    return bool(presses)


def _ends(written: object) -> Literal["closed", "open", "fixed"]:
    for known in ENDS:
        if written == known:
            return known
    raise UsageError(f"part: ends={written!r}: the twin knows {', '.join(ENDS)} ones. Write one of them.")


def _gauge(rig: Rig, channel: Channel, twin: Twin, streams: Streams) -> Gauge:
    """The gauge of a strain channel and its cable."""
    assert channel.gauge is not None, "asked for channels with a gauge only"
    name, packet = channel.gauge, rig.gauges[channel.gauge]
    healthy = twin.gauges
    bridge, offset = _bridge(rig, channel), healthy.offset.value
    lead, wires = field_of(bridge, "lead"), field_of(bridge, "wires")
    assert isinstance(lead, Uncertain), "a lead is a resistance"
    cable_ohm = streams.truth(f"{name} lead", lead)
    spread = healthy.leads.spread.value
    near, far, signal = (
        max(LEAST_OHM, cable_ohm * (1.0 + streams.uniform(f"{name} {which} conductor", -spread, spread)))
        for which in ("near", "far", "signal")
    )
    compensated = packet.compensated_for
    return Gauge(
        place=packet.at,
        packet_ohm=streams.truth(f"{name} resistance", packet.resistance),
        gauge_factor=streams.truth(f"{name} gauge factor", packet.gauge_factor),
        transverse_sensitivity=streams.truth(f"{name} transverse sensitivity", packet.transverse_sensitivity),
        compensated_for_per_k=streams.truth(f"{name} compensated for", compensated) if compensated else None,
        bonding_strain=streams.uniform(f"{name} bonding", -offset, offset),
        transfer=1.0,
        give=streams.uniform(f"{name} creep", 0.0, healthy.creep.value),
        insulation_ohm=healthy.insulation.value * streams.uniform(f"{name} insulation", 1.0, 2.0),
        near_ohm=near,
        far_ohm=far,
        signal_ohm=signal,
        lead_per_k=healthy.leads.temperature_coefficient.value,
        two_wires=wires == 2,
        sensed=wires == 6,
        others=tuple(streams.uniform(f"{name} bonding, arm {arm}", -offset, offset) for arm in (2, 3, 4))
        if rig.part.kind == "shaft" and bridge.kind == FULL
        else (),
    )


def _bridge(rig: Rig, channel: Channel) -> ReductionModel:
    model = channel.reduction
    assert model is not None, "a strain has one, checked when the documents were read"
    if rig.part.kind == "force cell":
        refuse_other_bridges(rig, channel, model.kind)
        return model
    place = ("channels", channel.name, "reduction")
    known = (*KNOWN_BRIDGES, FULL) if rig.part.kind == "shaft" else KNOWN_BRIDGES
    if model.kind not in known:
        raise beyond(rig, (*place, "model"), f"the twin has no {model.kind} on a {rig.part.kind}", known)
    if model.kind == FULL and (arrangement := field_of(model, "arrangement")) != "torsion":
        raise beyond(
            rig, (*place, "arrangement"), f"the twin has no full bridge of {arrangement} on a shaft", ("torsion",)
        )
    return model


def _wire(built: AsBuilt, rig: Rig, channel: Channel, twin: Twin, streams: Streams) -> None:
    """Plug what a channel measures into the input that rig.yaml names."""
    plug = (channel.instrument, channel.input)
    kind = role(rig.instruments[channel.instrument])
    if kind == "manual meter":
        kind = _stands_for(rig, channel)
        built.by_hand.add(channel.instrument)
    elif (stand_in := rig.instruments[channel.instrument].driver.stand_in()) is not None:
        kind = _stands_for(rig, channel, stand_in)
    if kind == "bridge amplifier" and channel.gauge:
        built.bridges[plug] = _bridge_input(rig, channel, twin, streams)
    elif kind == "ohmmeter" and channel.gauge:
        built.ohmmeters[plug] = channel.gauge
    elif kind == "ohmmeter":
        built.ohmmeters[plug] = channel.name
        built.sensors[channel.name] = _sensor(rig, channel, streams)
    elif kind == "insulation tester" and channel.gauge:
        built.insulation[plug] = channel.gauge
    elif kind == "thermometer" or (kind == "modbus meter" and channel.reads == "temperature"):
        built.thermometers.add(plug)


def _stands_for(rig: Rig, channel: Channel, stand_in: type[StandIn] | None = None) -> str:
    """The twin's own instrument that stands at the same terminals as one read by hand, or by a plugin's driver.

    "" where the plugin's stand-in knows itself what is there.
    """
    for kind, reads in READS.items():
        if channel.reads == reads:
            return kind
    if stand_in is not None and stand_in.at_load is not StandIn.at_load:
        return ""
    what = f"the twin has no {channel.reads}" + (
        f", and {stand_in.__name__} has no `at_load` that says what it is" if stand_in else ""
    )
    raise beyond(rig, ("channels", channel.name, "measures"), what, QUANTITIES)


def _bridge_input(rig: Rig, channel: Channel, twin: Twin, streams: Streams) -> BridgeInput:
    assert channel.gauge is not None, "asked for channels with a gauge only"
    stated = twin.instrument(channel.instrument)
    name = f"{channel.instrument} input {channel.input}"
    completion, shunt = stated.completion_resistor, stated.shunt_resistor
    return BridgeInput(
        gauge=channel.gauge,
        completion_ohm=streams.truth(f"{name} completion", completion)
        if completion
        else rig.gauges[channel.gauge].resistance.value,
        shunt_ohm=streams.truth(f"{channel.instrument} shunt", shunt),
    )


def _sensor(rig: Rig, channel: Channel, streams: Streams) -> Sensor:
    """A platinum sensor; within its tolerance class where one is stated."""
    model = channel.reduction
    if model is None or model.kind != "Pt100":
        said = repr(model.kind) if model else "nothing"
        place = ("channels", channel.name, "reduction", "model")
        raise beyond(rig, place, f"the twin has no sensor {said} on an ohmmeter", ("Pt100",))
    stated = field_of(model, "r0")
    assert isinstance(stated, Uncertain), "a resistance"
    constant, share = CLASS_LIMITS_C.get(str(field_of(model, "tolerance class")), (0.0, 0.0))
    deviation = streams.uniform(f"{channel.name} class", -1.0, 1.0)
    return Sensor(streams.truth(f"{channel.name} r0", stated), deviation * constant, deviation * share)


def _course(twin: Twin, streams: Streams) -> TemperatureCourse:
    stated = twin.temperature
    return TemperatureCourse(
        start_c=stated.at_start.value,
        drift_k_per_s=stated.drift.value,
        swing_k=stated.swing.value,
        period_s=stated.period.value,
        phase_rad=streams.uniform("temperature phase", 0.0, tau),
        approach_k=0.0 if stated.ambient is None else stated.ambient.value - stated.at_start.value,
        approach_s=stated.time_constant.value,
    )


def _source(rig: Rig, twin: Twin) -> Source:
    """The first source of the rig; one that nobody enables where it has none."""
    first = next(iter(rig.sources.values()), None)
    stated = twin.instrument(first.instrument if first else "")
    built = Source(stated.time_constant.value, stated.overshoot.value, stated.vent.value)
    if first is not None and rig.part.load == "gauge pressure":
        built.limit_pa = first.limit.value
    return built
