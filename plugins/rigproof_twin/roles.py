"""What an instrument of the rig is to the twin: the kind of its driver, or what its command map describes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigproof.instruments import Excites, Loads, Shunts, TestsInsulation
from rigproof_twin.fields import field_of
from rigproof_twin.refusal import beyond

if TYPE_CHECKING:
    from rigproof.documents.rig import Instrument, Rig

ENDS = {"LF": b"\n", "CR": b"\r", "CR LF": b"\r\n", "none": b""}
METERS = {
    "temperature": "thermometer",
    "resistance": "ohmmeter",
    "gauge pressure": "pressure transmitter",
    "force": "force meter",
    "torque": "torque meter",
    "volume": "volume meter",
}
SOURCES = {"gauge pressure": "pressure source", "force": "force source", "torque": "torque source"}
PRESSES = ("force source", "torque source")  # without a valve
MORE = (Excites, Loads, Shunts, TestsInsulation)
ANY = ("modbus meter", "manual meter")
DESCRIBED = {"described meter": METERS, "described source": SOURCES}


def role(instrument: Instrument) -> str:
    """The kind of simulated instrument that stands for one of the rig: its driver's, or what its map describes."""
    kind = instrument.driver.kind
    if kind not in DESCRIBED:
        return kind
    return DESCRIBED[kind][str(field_of(instrument.settings, "quantity"))]


def reads_anything(instrument: Instrument) -> bool:
    """Whether the rig's channels say what it reads, and not its kind: by Modbus, by hand, by a plugin's stand-in."""
    return instrument.driver.kind in ANY or instrument.driver.stand_in() is not None


def expect_known(rig: Rig) -> None:
    """Raise `DocumentError` where the twin has not what an instrument is for, or a stand-in does more than read."""
    for name, instrument in rig.instruments.items():
        known = DESCRIBED.get(instrument.driver.kind)
        if known and (quantity := field_of(instrument.settings, "quantity")) not in known:
            what = f"the twin has no {instrument.driver.kind} of {quantity}"
            raise beyond(rig, ("instruments", name, "settings", "quantity"), what, tuple(known))
        more = [ability.__name__ for ability in instrument.driver.__mro__ if ability in MORE]
        if more and instrument.driver.stand_in() is not None:
            what = f"driver {instrument.driver.kind!r} has a stand-in and {' and '.join(more)}"
            raise beyond(rig, ("instruments", name, "driver"), what, ("stand-ins that read alone",))


def described_by(instrument: Instrument) -> object:
    """The command map of a described instrument; None for the others."""
    return instrument.settings if instrument.driver.kind in DESCRIBED else None


def terminator(instrument: Instrument) -> bytes:
    """What ends its messages; LF where its settings do not say."""
    return ENDS[getattr(instrument.settings, "terminator", "LF")]
