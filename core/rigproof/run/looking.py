"""A look at the instruments of a rig before any run: who answers, how fast, how quiet, and what stands in the way.

Nothing is set, loaded or switched: no excitation, relay, output, valve or source. What reading itself needs (which
inputs, how many scans) is told to the instrument, and reading an error queue empties it, as it does everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from statistics import median

import numpy as np

from rigproof.documents.rig import Channel, Instrument, Rig
from rigproof.errors import InstrumentError
from rigproof.instruments import Driver, FloatArray, Loads, Reads, able
from rigproof.models import BridgeModel
from rigproof.people import NOBODY
from rigproof.quantities import kind_of, show
from rigproof.replaying import Replays
from rigproof.steps.terms import nominal_strain

from .interview import Interview
from .opening import Reach, expect_right, make_driver

QUESTIONS, READINGS = 10, 20
INTERVAL_S = 0.02


@dataclass(frozen=True)
class Look:
    """What one instrument showed."""

    instrument: str
    answer: str  # who it is, or what stands in the way
    well: bool
    latency_s: float | None  # median of a reading, or of a question where it gives none
    noise: dict[str, str]  # by channel, with unit: standard deviation of READINGS readings
    errors: tuple[str, ...]  # its queue
    due: str  # day, or that none is stated
    safe: bool | None  # a source: whether it says that it is safe
    as_for_a_run: bool  # its driver cannot only look, and opened it with its settings


def look(rig: Rig, reach: Reach) -> Iterator[Look]:
    """Every instrument in turn, the failing ones too."""
    # nothing of what a person is asked here is kept
    person = Interview(reach.answers, lambda *_, **__: None, lambda: None) if reach.answers else NOBODY
    for instrument in rig.instruments.values():
        if instrument.driver.asks_a_person and reach.answers is None:
            asked_later = "worked by hand, asked in the run"
            yield Look(instrument.name, asked_later, True, None, {}, (), _due(instrument), None, False)
            continue
        driver = make_driver(rig, instrument, reach, person)
        try:
            yield _look_at(rig, instrument, driver, reach)
        finally:
            driver.close()


def _look_at(rig: Rig, instrument: Instrument, driver: Driver, reach: Reach) -> Look:
    answer, well, latency_s, safe = "", False, None, None
    errors: tuple[str, ...] = ()
    noise: dict[str, str] = {}
    # a record gives its readings once, in their turn; a person's cost work
    knows_who, by_itself = False, not (isinstance(driver, Replays) or driver.asks_a_person)
    try:
        identity = driver.look()
        knows_who = True
        expect_right(instrument, identity, reach)
        answer = ", ".join(filter(None, (identity.maker, identity.model, identity.serial_number)))
        errors = tuple(driver.errors())
        if by_itself:
            source = able(driver, Loads)
            safe = None if source is None else source.is_safe()
            latency_s, noise = _readings(rig, instrument, driver, reach)
        well = safe is not False
    except InstrumentError as error:
        driver.close()
        told = str(error).removeprefix(f"{instrument.name}: ")
        answer = told if knows_who else driver.diagnose() or told
    opened = by_itself and type(driver).look is Driver.look
    return Look(instrument.name, answer, well, latency_s, noise, errors, _due(instrument), safe, opened)


def _due(instrument: Instrument) -> str:
    calibration = instrument.calibration
    return calibration.due.isoformat() if calibration and calibration.due else "not stated"


def _readings(rig: Rig, instrument: Instrument, driver: Driver, reach: Reach) -> tuple[float, dict[str, str]]:
    """How long one reading takes, and how much readings scatter, by channel."""
    channels = [channel for channel in rig.channels.values() if channel.instrument == instrument.name]
    reader = able(driver, Reads)
    if reader is None or not channels:
        return _time(reach, driver.errors), {}
    inputs = list(dict.fromkeys(channel.input for channel in channels))
    latency_s = _time(reach, lambda: reader.read(inputs[:1], 1, 0.0))
    block = dict(zip(inputs, reader.read(inputs, READINGS, INTERVAL_S).T, strict=True))
    return latency_s, {channel.name: _noise(rig, channel, block[channel.input]) for channel in channels}


def _time(reach: Reach, ask: Callable[[], object]) -> float:
    times = []
    for _ in range(QUESTIONS):
        before = reach.clock.now()
        ask()
        times.append(reach.clock.now() - before)
    return median(times)


def _noise(rig: Rig, channel: Channel, raw: FloatArray) -> str:
    """Standard deviation in the unit of what the channel measures, at nominal inputs."""
    if not np.isfinite(raw).all():
        return "no reading: overload or open circuit"
    model = channel.reduction
    if isinstance(model, BridgeModel):
        values = nominal_strain(rig, channel.name, raw, float(raw[0]))
    elif model is not None:
        gauges = [rig.gauges[channel.gauge]] if channel.gauge else []
        values = np.asarray(model.reduce(raw, 0.0, *(item.value for item in model.inputs(gauges))), dtype=np.float64)
    else:
        values = raw
    return show(float(np.std(values, ddof=1)), kind_of(channel.measures).difference, 2)
