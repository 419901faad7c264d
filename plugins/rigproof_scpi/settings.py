"""What every driver over VISA takes under `settings:`: what ends a message, and how a serial line runs."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from rigproof.instruments import Settings
from rigproof.quantities import WrittenError

Terminator = Literal["LF", "CR", "CR LF", "none"]


# What ports and their adapters know by common practice (no source); a slip of the pen is none of them.
BAUD_RATES = (
    *(50, 75, 110, 134, 150, 200, 300, 600, 1200, 1800, 2400, 4800, 7200, 9600, 14_400, 19_200, 28_800, 31_250, 38_400),
    *(56_000, 57_600, 76_800, 115_200, 128_000, 230_400, 250_000, 256_000, 460_800, 500_000, 576_000, 921_600),
    *(1_000_000, 1_152_000, 1_500_000, 2_000_000, 2_500_000, 3_000_000, 3_500_000, 4_000_000),
)


def _of_ports(baud_rate: int) -> int:
    if baud_rate not in BAUD_RATES:
        raise WrittenError(f"no port knows {baud_rate} baud", f"write one of {', '.join(map(str, BAUD_RATES))}")
    return baud_rate


class Line(Settings):
    """How characters run on a serial line; what is left out is 9600 baud, 8 data bits, no parity, 1 stop bit."""

    baud_rate: Annotated[int, AfterValidator(_of_ports)] = 9600
    data_bits: Annotated[int, Field(ge=5, le=8)] = 8
    parity: Literal["none", "odd", "even", "mark", "space"] = "none"
    stop_bits: Literal["1", "1.5", "2"] = "1"
    flow_control: Literal["none", "XON/XOFF", "RTS/CTS", "DTR/DSR"] = "none"


class VisaSettings(Settings):
    """Base of the settings of an instrument at a VISA resource."""

    terminator: Terminator = "LF"
    line: Line | None = None  # None: as `Line()`, where there is one
