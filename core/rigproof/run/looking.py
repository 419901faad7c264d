"""A look at the instruments of a rig before any run: who answers, how fast, how quiet, and what stands in the way.

Nothing is set, loaded or switched: no excitation, relay, output, valve or source. What reading itself needs (which
inputs, how many scans) is told to the instrument, and reading an error queue empties it, as it does everywhere.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
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
from .possible import expect_possible
from .unwritten import for_examples

QUESTIONS, ROUNDS, READINGS = 10, 3, 20
INTERVAL_S = 0.02
NO_READING = "no reading: overload or open circuit"


@dataclass(frozen=True)
class Look:
    """What one instrument showed."""

    instrument: str
    answer: str  # who it is, or what stands in the way
    well: bool
    latency_s: float | None  # median of a reading, or of a question where it gives none
    round_s: float | None  # of one reading of each input, where it has several: changing the input may take long
    readings: dict[str, str]  # by channel, with unit: their mean as read, uncorrected; of a bridge its output
    noise: dict[str, str]  # by channel, with unit: standard deviation of READINGS readings
    errors: tuple[str, ...]  # its queue
    due: str  # day, or that none is stated
    safe: bool | None  # a source: whether it says that it is safe
    as_for_a_run: bool  # its driver has settings and cannot only look, and so opened it with them


def look(rig: Rig, reach: Reach, only: Collection[str] = ()) -> Iterator[Look]:
    """Every instrument in turn, the failing ones too; where names are given, these alone are opened."""
    # nothing of what a person is asked here is kept
    person = Interview(reach.answers, lambda *_, **__: None, lambda: None) if reach.answers else NOBODY
    for instrument in rig.instruments.values():
        if only and instrument.name not in only:
            continue
        if instrument.driver.asks_a_person and reach.answers is None:
            asked_later = "worked by hand, asked in the run"
            yield Look(instrument.name, asked_later, True, None, None, {}, {}, (), _due(instrument), None, False)
            continue
        real = not (reach.simulated or reach.visa_library)
        if real and (nowhere := for_examples(instrument.resource)):
            unwritten = f"{nowhere} is an address for examples, and nothing was sent there: write the instrument's own"
            yield Look(instrument.name, unwritten, False, None, None, {}, {}, (), _due(instrument), None, False)
            continue
        driver = make_driver(rig, instrument, reach, person)
        try:
            yield _look_at(rig, instrument, driver, reach)
        finally:
            driver.close()


def _look_at(rig: Rig, instrument: Instrument, driver: Driver, reach: Reach) -> Look:
    answer, well, safe = "", False, None
    times: tuple[float | None, float | None] = None, None
    errors: tuple[str, ...] = ()
    readings: dict[str, str] = {}
    noise: dict[str, str] = {}
    # a record gives its readings once, in their turn; a person's cost work
    knows_who, by_itself = False, not (isinstance(driver, Replays) or driver.asks_a_person)
    try:
        identity = driver.look()
        knows_who = True
        expect_right(instrument, identity, reach)
        answer = ", ".join(filter(None, (identity.maker, identity.model, identity.serial_number)))
        errors = tuple(driver.errors())
        if errors and (stays := driver.errors()):
            still = (
                f"still reports {'; '.join(folded(stays))} when asked again, and no run would begin: clear the cause"
            )
            raise InstrumentError(instrument.name, still)
        if by_itself:
            source = able(driver, Loads)
            safe = None if source is None else source.is_safe()
            times, readings, noise = _readings(rig, instrument, driver, reach)
        well = safe is not False
    except InstrumentError as error:
        driver.close()
        told = str(error).removeprefix(f"{instrument.name}: ")
        answer = told if knows_who else driver.diagnose() or error.ask_why() or told
    opened = by_itself and type(driver).look is Driver.look and bool(instrument.driver.settings_model.model_fields)
    return Look(instrument.name, answer, well, *times, readings, noise, errors, _due(instrument), safe, opened)


def folded(errors: Sequence[str]) -> list[str]:
    """Each error once, in order, with how often it was told: a fault that stays is told again and again."""
    return [text if count == 1 else f"{text} ({count} times)" for text, count in Counter(errors).items()]


def _due(instrument: Instrument) -> str:
    calibration = instrument.calibration
    return calibration.due.isoformat() if calibration and calibration.due else "not stated"


def _readings(
    rig: Rig, instrument: Instrument, driver: Driver, reach: Reach
) -> tuple[tuple[float, float | None], dict[str, str], dict[str, str]]:
    """How long one reading and a round of all inputs take; what is read, and how much that scatters, by channel."""
    channels = [channel for channel in rig.channels.values() if channel.instrument == instrument.name]
    reader = able(driver, Reads)
    if reader is None or not channels:
        return (_time(reach, driver.errors), None), {}, {}
    inputs = list(dict.fromkeys(channel.input for channel in channels))
    latency_s = _time(reach, lambda: reader.read(inputs[:1], 1, 0.0))
    round_s = _time(reach, lambda: reader.read(inputs, 1, 0.0), ROUNDS) if inputs[1:] else None
    block = dict(zip(inputs, reader.read(inputs, READINGS, INTERVAL_S).T, strict=True))
    raw = {channel.name: block[channel.input] for channel in channels}
    expect_possible(rig, raw)
    means = {channel.name: _mean(rig, channel, raw[channel.name]) for channel in channels}
    return (latency_s, round_s), means, {channel.name: _noise(rig, channel, raw[channel.name]) for channel in channels}


def _time(reach: Reach, ask: Callable[[], object], count: int = QUESTIONS) -> float:
    times = []
    for _ in range(count):
        before = reach.clock.now()
        ask()
        times.append(reach.clock.now() - before)
    return median(times)


def _mean(rig: Rig, channel: Channel, raw: FloatArray) -> str:
    """What a person compares with the display. Strain has no zero yet: a bridge shows its output."""
    if not np.isfinite(raw).all():
        return NO_READING
    if isinstance(channel.reduction, BridgeModel):
        return show(_average(raw), channel.reads, 5)
    return show(_average(_reduced(rig, channel, raw)), channel.measures, 5)


def _average(values: FloatArray) -> float:
    """Their mean; what rounding leaves of readings about zero is zero, not 2e-20."""
    mean = float(np.mean(values))
    return mean if abs(mean) > 1e-12 * float(np.max(np.abs(values))) else 0.0


def _noise(rig: Rig, channel: Channel, raw: FloatArray) -> str:
    """Standard deviation in the unit of what the channel measures, at nominal inputs."""
    if not np.isfinite(raw).all():
        return NO_READING
    found = _reduced(rig, channel, raw)
    spread = float(np.std(found, ddof=1)) if np.ptp(found) else 0.0  # readings all alike have none, not 2e-19 mm
    return show(spread, kind_of(channel.measures).difference, 2)


def _reduced(rig: Rig, channel: Channel, raw: FloatArray) -> FloatArray:
    """In the base unit of what the channel measures; strain counts from the first reading."""
    model = channel.reduction
    if model is None:
        return raw
    if isinstance(model, BridgeModel):
        return nominal_strain(rig, channel.name, raw, float(raw[0]))
    gauges = [rig.gauges[channel.gauge]] if channel.gauge else []
    return np.asarray(model.reduce(raw, 0.0, *(item.value for item in model.inputs(gauges))), dtype=np.float64)
