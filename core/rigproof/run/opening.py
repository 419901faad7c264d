"""Opening the instruments of a rig, and seeing that they are the ones the rig names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from rigproof.clock import Clock
from rigproof.documents.rig import Instrument, Rig, WrittenIdentity
from rigproof.errors import InstrumentError
from rigproof.instruments import Connection, Driver, Identity
from rigproof.simulation import SIMULATED_FIRMWARE
from rigproof.verdict.record import InstrumentRecord

NOT_ASKED = "not asked"  # the firmware of an instrument that cannot say who it is


@dataclass(frozen=True)
class Reach:
    """How the instruments are reached: for real, in a simulator under the drivers, or at a served bench."""

    clock: Clock
    visa_library: str = ""
    simulated: bool = False
    addresses: Mapping[str, str] = field(default_factory=dict)  # resource in the rig -> resource to open


def make_driver(instrument: Instrument, reach: Reach) -> Driver:
    """The driver of an instrument, not yet open."""
    resource = reach.addresses.get(instrument.resource, instrument.resource)
    connection = Connection(
        instrument.name, resource, reach.visa_library, instrument.timeout.value, reach.clock, instrument.line
    )
    return instrument.driver(connection, instrument.settings)


def open_instrument(instrument: Instrument, driver: Driver, reach: Reach) -> InstrumentRecord:
    """Open one instrument, compare its identity with the rig, drain its error queue.

    Raises `InstrumentError` when it does not answer, is another one than the rig names, or reports an error.
    """
    identity = driver.open()
    _same(instrument, identity)
    if identity.firmware == SIMULATED_FIRMWARE and not reach.simulated:
        raise InstrumentError(
            instrument.name,
            f"a simulated instrument answers at {instrument.resource}, and the run would be taken for a real one; "
            "use --simulated or --bench",
        )
    if queued := driver.errors():
        raise InstrumentError(instrument.name, f"reports {'; '.join(queued)}; clear the cause before the run")
    calibration, written = instrument.calibration, instrument.identity or WrittenIdentity()
    return InstrumentRecord(
        name=instrument.name,
        driver=instrument.driver.kind,
        resource=instrument.resource,
        maker=_said(identity.maker, written.maker),
        model=_said(identity.model, written.model),
        serial_number=_said(identity.serial_number, written.serial_number),
        firmware=SIMULATED_FIRMWARE if reach.simulated else _said(identity.firmware, NOT_ASKED),
        unconfirmed=tuple(
            word for word in ("maker", "model", "serial number") if getattr(identity, word.replace(" ", "_")) is None
        ),
        certificate=calibration.certificate if calibration else None,
        calibration_due=calibration.due.isoformat() if calibration and calibration.due else None,
    )


def open_all(rig: Rig, reach: Reach, drivers: dict[str, Driver]) -> Iterator[InstrumentRecord]:
    """Open the instruments of the rig one by one into `drivers`, sources first: what can load must be known to answer.

    When one fails, those opened before stand in `drivers`, so that the caller can make the rig safe and close them.
    """
    sources = {source.instrument for source in rig.sources.values()}
    for instrument in sorted(rig.instruments.values(), key=lambda item: item.name not in sources):
        drivers[instrument.name] = make_driver(instrument, reach)
        yield open_instrument(instrument, drivers[instrument.name], reach)


def _said(said: str | None, otherwise: str | None) -> str:
    """What the instrument says of itself; where it cannot say, what the rig says of it."""
    return (otherwise or "") if said is None else said


def _same(instrument: Instrument, identity: Identity) -> None:
    wanted = instrument.identity
    if wanted is None:
        return
    pairs = [
        ("maker", wanted.maker, identity.maker),
        ("model", wanted.model, identity.model),
        ("serial number", wanted.serial_number, identity.serial_number),
    ]
    for what, expected, found in pairs:
        if None not in (expected, found) and expected != found:
            raise InstrumentError(
                instrument.name,
                f"{what} is {found!r}, the rig names {expected!r}: another instrument stands at "
                f"{instrument.resource}; correct the cabling or rig.yaml",
            )
