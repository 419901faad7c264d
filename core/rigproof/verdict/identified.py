"""Which part a run was about, where it stood, who took it, and what would have relieved it: as stated, in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigproof.quantities import kind_of

from .record import ReliefRecord, Verdict

if TYPE_CHECKING:
    from rigproof.documents import Rig

NOT_NAMED = "not named (`--operator NAME`)"


@dataclass(frozen=True)
class Identified:
    """What rig.yaml and the command state; "" or nothing where they do not."""

    part_serial_number: str
    part_drawing: str
    site: str
    operators: tuple[str, ...]
    relief_devices: tuple[ReliefRecord, ...]

    def lines(self) -> Iterator[tuple[str, str]]:
        """What it is and its text, of all that is stated."""
        for what, text in (
            ("part's serial number", self.part_serial_number),
            ("part's drawing", self.part_drawing),
            ("site", self.site),
            ("operator", "; ".join(self.operators)),
            *((f"relief device of {each.source}", _relief(each)) for each in self.relief_devices),
        ):
            if text:
                yield what, text


def of_rig(rig: Rig, operators: tuple[str, ...] = ()) -> Identified:
    """What rig.yaml states, and who takes the run."""
    return Identified(
        rig.part.serial_number or "",
        rig.part.drawing or "",
        rig.site,
        operators,
        tuple(_reliefs(rig)),
    )


def of_verdict(verdict: Verdict) -> Identified:
    """The same from a verdict."""
    return Identified(
        verdict.part_serial_number, verdict.part_drawing, verdict.site, verdict.operators, verdict.relief_devices
    )


def _reliefs(rig: Rig) -> Iterator[ReliefRecord]:
    for source in rig.sources.values():
        if device := source.relief_device:
            pressure = device.set_pressure
            yield ReliefRecord(
                source=source.name,
                set_pressure=pressure.value,
                lowest=pressure.lower,
                highest=pressure.upper,
                kind=pressure.kind,
                unit=kind_of(pressure.kind).base,
                stated=pressure.text,
                serial_number=device.serial_number or "",
                certificate=device.certificate or "",
            )


def _relief(record: ReliefRecord) -> str:
    """`RV-0031, opens at 39 bar ± 3 % (certificate 2026-0330)`, as stated."""
    named = f"{record.serial_number}, " if record.serial_number else ""
    return f"{named}opens at {record.stated}" + (f" (certificate {record.certificate})" if record.certificate else "")
