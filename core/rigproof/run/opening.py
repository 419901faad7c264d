"""Opening the instruments of a rig, and seeing that they are the ones the rig names."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from rigproof.clock import Clock
from rigproof.documents.rig import Instrument, Rig
from rigproof.errors import InstrumentError
from rigproof.instruments import NOT_ASKED, Connection, Driver, Identity
from rigproof.people import NOBODY, Answers, Person
from rigproof.replaying import REPLAYED_FIRMWARE
from rigproof.simulation import SIMULATED_FIRMWARE
from rigproof.verdict.record import InstrumentRecord

from .deadline import under_a_deadline
from .unwritten import FILL_IN


@dataclass(frozen=True)
class Reach:
    """How the instruments are reached: for real, in a simulator under the drivers, at a served bench, from records."""

    clock: Clock
    visa_library: str = ""
    simulated: bool = False
    replayed: bool = False
    addresses: Mapping[str, str] = field(default_factory=dict)  # resource in the rig -> resource to open
    answers: Answers | None = None  # who answers where an instrument or a step asks a person
    operator: str = ""  # who takes the run; "": not named
    unasked: Callable[[], Sequence[str]] = tuple  # answers given beforehand that no question has called for, in words


def make_driver(rig: Rig, instrument: Instrument, reach: Reach, person: Person = NOBODY) -> Driver:
    """The driver of an instrument, not yet open, under a deadline."""
    resource = reach.addresses.get(instrument.resource, instrument.resource)
    connection = Connection(
        instrument.name,
        resource,
        reach.visa_library,
        instrument.timeout.value,
        reach.clock,
        Path(rig.file).parent,
        {channel.input: channel.reads for channel in rig.channels.values() if channel.instrument == instrument.name},
        person,
    )
    return under_a_deadline(instrument.driver(connection, instrument.settings))


def open_instrument(instrument: Instrument, driver: Driver, reach: Reach) -> InstrumentRecord:
    """Open one instrument, compare its identity with the rig, drain its error queue.

    Raises `InstrumentError` when it does not answer, is another one than the rig names, or reports an error.
    """
    identity = driver.open()
    if driver.asks_a_person and _misread(instrument, identity):
        driver.connection.person.tell(
            instrument.name,
            f"{instrument.name}: {identity.serial_number!r} is not the one that rig.yaml names. Read it again.",
        )
        with suppress(InstrumentError):  # nobody answers a second time: what was said first stands
            identity = driver.open()
    expect_right(instrument, identity, reach)
    if queued := driver.errors():
        raise InstrumentError(instrument.name, f"reports {'; '.join(queued)}; clear the cause before the run")
    calibration = instrument.calibration
    return InstrumentRecord(
        name=instrument.name,
        driver=instrument.driver.kind,
        resource=instrument.resource,
        maker=identity.maker,
        model=identity.model,
        serial_number=identity.serial_number,
        firmware=identity.firmware,
        certificate=calibration.certificate if calibration else None,
        calibration_due=calibration.due.isoformat() if calibration and calibration.due else None,
    )


def expect_right(instrument: Instrument, identity: Identity, reach: Reach) -> None:
    """Raise `InstrumentError` where another instrument answered than the rig names, a simulated or a replayed one."""
    expect_named(instrument, identity)
    if identity.firmware == SIMULATED_FIRMWARE and not reach.simulated:
        raise InstrumentError(
            instrument.name,
            f"a simulated instrument answers at {instrument.resource}, and the run would be taken for a real one; "
            "use --simulated or --bench",
        )
    says_so = identity.firmware in (SIMULATED_FIRMWARE, NOT_ASKED, "")
    if reach.simulated and instrument.driver.stand_in() and not says_so:
        raise InstrumentError(
            instrument.name,
            f"its stand-in answers with firmware={identity.firmware!r}, and could be taken for the instrument itself; "
            "have it answer with `self.about.firmware`",
        )
    if identity.firmware == REPLAYED_FIRMWARE and not reach.replayed:
        raise InstrumentError(
            instrument.name,
            f"answers from the record {instrument.resource}, and the run would be taken for a live one; use --replayed",
        )


def open_all(rig: Rig, reach: Reach, drivers: dict[str, Driver], person: Person = NOBODY) -> Iterator[InstrumentRecord]:
    """Open the instruments of the rig one by one into `drivers`, sources first: what can load must be known to answer.

    People are asked last: a serial number that was misread must not keep the load from being seen. When one
    fails, those opened before stand in `drivers`, so that the caller can make the rig safe and close them.
    """
    sources = {source.instrument for source in rig.sources.values()}
    order = sorted(rig.instruments.values(), key=lambda item: (item.name not in sources, item.driver.asks_a_person))
    for instrument in order:
        drivers[instrument.name] = make_driver(rig, instrument, reach, person)
        yield open_instrument(instrument, drivers[instrument.name], reach)


def _misread(instrument: Instrument, identity: Identity) -> bool:
    wanted = instrument.identity
    return bool(wanted and wanted.serial_number and wanted.serial_number != identity.serial_number)


def expect_named(instrument: Instrument, identity: Identity) -> None:
    """Raise `InstrumentError` where another instrument answered than the rig names."""
    wanted = instrument.identity
    if wanted is None or identity.firmware == NOT_ASKED:
        return
    pairs = [
        ("maker", wanted.maker, identity.maker),
        ("model", wanted.model, identity.model),
        ("serial number", wanted.serial_number, identity.serial_number),
    ]
    for what, expected, found in pairs:
        if expected is not None and expected != found:
            at = f"another instrument stands at {instrument.resource}; correct the cabling or rig.yaml"
            if expected == FILL_IN:
                at = f"write {found!r} there, if this is the instrument meant"
            if not found:
                at = f"it states none; leave the {what} out of rig.yaml"
            elif instrument.driver.asks_a_person:
                at = "another one is in use, or it was misread; take the right one, or correct rig.yaml"
            raise InstrumentError(instrument.name, f"{what} is {found!r}, the rig names {expected!r}: {at}")
