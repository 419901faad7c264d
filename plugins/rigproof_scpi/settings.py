"""What every driver over VISA takes under `settings:`: what ends a message, and how a serial line runs."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from rigproof.instruments import Settings

Terminator = Literal["LF", "CR", "CR LF", "none"]


class Line(Settings):
    """How characters run on a serial line; what is left out is 9600 baud, 8 data bits, no parity, 1 stop bit."""

    baud_rate: Annotated[int, Field(ge=50, le=4_000_000)] = 9600
    data_bits: Annotated[int, Field(ge=5, le=8)] = 8
    parity: Literal["none", "odd", "even", "mark", "space"] = "none"
    stop_bits: Literal["1", "1.5", "2"] = "1"
    flow_control: Literal["none", "XON/XOFF", "RTS/CTS", "DTR/DSR"] = "none"


class VisaSettings(Settings):
    """Base of the settings of an instrument at a VISA resource."""

    terminator: Terminator = "LF"
    line: Line | None = None  # None: as `Line()`, where there is one
