"""What an instrument of the rig is to the twin. The twin reads other plugins' models by the names of their fields."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigproof.errors import UsageError

if TYPE_CHECKING:
    from rigproof.documents.rig import Instrument

ENDS = {"LF": b"\n", "CR": b"\r", "CR LF": b"\r\n", "none": b""}
METERS = {"temperature": "thermometer", "resistance": "ohmmeter", "gauge pressure": "pressure transmitter"}
SOURCES = {"gauge pressure": "pressure source"}
DESCRIBED = {"described meter": METERS, "described source": SOURCES}


def role(instrument: Instrument) -> str:
    """The kind of simulated instrument that stands for one of the rig: its driver's, or what its map describes."""
    kind = instrument.driver.kind
    if kind not in DESCRIBED:
        return kind
    quantity = field(instrument.settings, "quantity")
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
    """What ends its messages."""
    described = described_by(instrument)
    return ENDS[str(field(described, "terminator")) if described else instrument.line.terminator]


def field(holder: object, name: str) -> object:
    """A field by its name in the document."""
    try:
        return getattr(holder, name.replace(" ", "_"))
    except AttributeError:
        kind = getattr(holder, "kind", type(holder).__name__)
        raise UsageError(
            f"{kind}: has no field {name!r}, and the twin cannot do without. Use the bundled model."
        ) from None
