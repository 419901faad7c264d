"""How each instrument departs from the truth: drawn within the accuracy that rig.yaml states for its channels."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from rigproof.quantities import Spread, Uncertain
from rigproof_twin.document import Instrument as Stated
from rigproof_twin.draw import Streams
from rigproof_twin.interface import Appearance, Deviation

if TYPE_CHECKING:
    from rigproof.documents.rig import Channel, Instrument, Rig


def looks(rig: Rig, instrument: Instrument, stated: Stated, streams: Streams) -> Appearance:
    """Identity from rig.yaml, noise and latency from twin.yaml, true errors drawn within the channels' accuracy."""
    channels = [channel for channel in rig.channels.values() if channel.instrument == instrument.name]
    largest = stated.highest_reading.value if stated.highest_reading else inf
    noise, relative = stated.noise, stated.noise is not None and stated.noise.kind == "ratio"
    identity = instrument.identity
    return Appearance(
        maker=(identity and identity.maker) or "Simulated",
        model=(identity and identity.model) or instrument.driver.kind,
        serial_number=(identity and identity.serial_number) or "0",
        firmware="simulated",
        latency_s=stated.latency.value,
        noise=noise.value if noise and not relative else 0.0,
        noise_relative=noise.value if noise and relative else 0.0,
        resolution=max((c.accuracy.resolution.value for c in channels if c.accuracy.resolution), default=0.0),
        lower=-largest,
        upper=largest,
        input_count=max([4, *(channel.input for channel in channels)]),
        deviations={channel.input: _deviation(channel, streams) for channel in channels},
    )


def _deviation(channel: Channel, streams: Streams) -> Deviation:
    accuracy = channel.accuracy

    def error(name: str, spread: Spread | None, relative: bool) -> float:
        if spread is None:
            return 0.0
        u = spread.u_relative if relative else spread.u_absolute
        return streams.deviation(f"{channel.name} {name}", u, spread.shape)

    def shown_too_little(name: str, correction: Uncertain | None) -> float:
        return streams.truth(f"{channel.name} correction {name}", correction) if correction else 0.0

    # Corrected, it would read the truth: (truth - fixed) / (1 + gain); what the accuracy allows comes on top.
    gain = 1.0 + shown_too_little("of reading", channel.correction.of_reading)
    return Deviation(
        gain_error=1.0 / gain - 1.0 + error("of reading", accuracy.of_reading, relative=True),
        offset=error("fixed", accuracy.fixed, relative=False)
        - shown_too_little("fixed", channel.correction.fixed) / gain,
        zero_drift=error("zero drift", accuracy.zero_drift, relative=False),
    )
