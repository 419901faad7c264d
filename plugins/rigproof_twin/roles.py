"""What an instrument of the rig is to the twin: the kind of its driver, or what its command map describes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigproof.errors import UsageError
from rigproof_twin.fields import field_of

if TYPE_CHECKING:
    from rigproof.documents.rig import Instrument

ENDS = {"LF": b"\n", "CR": b"\r", "CR LF": b"\r\n", "none": b""}
METERS = {
    "temperature": "thermometer",
    "resistance": "ohmmeter",
    "gauge pressure": "pressure transmitter",
    "force": "force meter",
}
SOURCES = {"gauge pressure": "pressure source", "force": "force source"}
DESCRIBED = {"described meter": METERS, "described source": SOURCES}


def role(instrument: Instrument) -> str:
    """The kind of simulated instrument that stands for one of the rig: its driver's, or what its map describes."""
    kind = instrument.driver.kind
    if kind not in DESCRIBED:
        return kind
    quantity = field_of(instrument.settings, "quantity")
    known = DESCRIBED[kind]
    if quantity not in known:
        raise UsageError(
            f"instrument {instrument.name}: quantity={quantity!r}: the twin has no {kind} of it. "
            f"It knows: {', '.join(known)}."
        )
    return known[str(quantity)]


def described_by(instrument: Instrument) -> object:
    """The command map of a described instrument; None for the others."""
    return instrument.settings if instrument.driver.kind in DESCRIBED else None


def terminator(instrument: Instrument) -> bytes:
    """What ends its messages; LF where its settings do not say."""
    return ENDS[getattr(instrument.settings, "terminator", "LF")]
