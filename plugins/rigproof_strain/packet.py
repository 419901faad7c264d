"""What every strain bridge takes from the rig: its gauges' packet values and its leads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

from pydantic import AfterValidator, BeforeValidator

from rigproof.errors import NumberError
from rigproof.quantities import Uncertain, WrittenError, uncertain
from rigproof.uncertainty import Input
from rigproof_strain import checks

if TYPE_CHECKING:
    from rigproof.documents.rig import Gauge


def _whole(value: object) -> object:
    """Documents hold text; a count of wires is a whole number."""
    return int(value) if isinstance(value, str) and value.strip().isdecimal() else value


def _not_negative(lead: Uncertain) -> Uncertain:
    if lead.lower < 0:
        raise WrittenError(f"{lead.text!r} reaches below 0 Ω", "narrow its limits: they are those of one conductor")
    return lead


Whole = BeforeValidator(_whole)
Lead = Annotated[Uncertain, uncertain("resistance"), AfterValidator(_not_negative)]


def packet_inputs(gauges: Sequence[Gauge], lead: Uncertain) -> tuple[Input, ...]:
    """Gauge resistance (Ω), gauge factor, transverse sensitivity of the packet, and the lead (Ω, one conductor).

    One gauge of the rig stands for all gauges of the bridge: they come from one packet, so that its deviations are
    common to them and do not average out. Raises NumberError for another number of gauges, or when the transverse
    sensitivity reaches beyond ±0.1.
    """
    if len(gauges) != 1:
        raise NumberError(f"gauges = {len(gauges)}: a bridge takes one gauge of the rig, which stands for its packet")
    gauge = gauges[0]
    for bound in (gauge.transverse_sensitivity.lower, gauge.transverse_sensitivity.upper):
        checks.transverse(bound)
    return (
        gauge.resistance.input("gauge resistance"),
        gauge.gauge_factor.input("gauge factor"),
        gauge.transverse_sensitivity.input("transverse sensitivity"),
        lead.input("lead"),
    )
