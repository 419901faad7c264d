"""A live run whose `resource:` names ports of a bench on this machine is refused before anything is opened or kept."""

from __future__ import annotations

import re
import socket
from contextlib import suppress

from rigproof.clock import WallClock
from rigproof.documents import Rig, fault_in
from rigproof.documents.rig import Instrument
from rigproof.errors import DocumentError
from rigproof.instruments import Driver
from rigproof.simulation import SIMULATED_FIRMWARE

from .opening import Reach, make_driver

# RFC 1122, 3.2.1.3 (from memory): 127/8 never leaves the machine, and a bench is served nowhere else; who connects to
# 0.0.0.0 reaches this machine, too
_THIS_MACHINE = r"(?<![\w.])(?:127(?:\.\d{1,3}){3}|0\.0\.0\.0|localhost"


def on_this_machine(resource: str) -> bool:
    """Whether a resource names this machine; no name is looked up for it."""
    by_name = rf"{_THIS_MACHINE}|{re.escape(socket.gethostname())})(?![\w.])"
    return re.search(by_name, resource, re.IGNORECASE) is not None


def at_this_machine(rig: Rig) -> list[str]:
    """One sentence for the instruments that a live run may refuse: only a look tells whether a bench serves them."""
    here = [name for name, instrument in rig.instruments.items() if on_this_machine(instrument.resource)]
    if not here:
        return []
    return [
        f"At ports of this machine: {', '.join(here)}. A live run refuses what `rigproof bench` serves there; with "
        "--bench HOST:PORT it is taken."
    ]


def refuse_bench(rig: Rig) -> None:
    """Raise `DocumentError` at the first instrument that a bench of this machine serves.

    Only a look over loopback, by drivers that can look without setting: whatever else is wrong there the run will say.
    """
    for name, instrument in rig.instruments.items():
        if on_this_machine(instrument.resource) and _simulated(rig, instrument):
            what = "a simulated instrument answers here, as `rigproof bench` serves it, and this run takes real ones"
            remedy = "add --bench HOST:PORT to the command, with the port of the clock that `rigproof bench` prints"
            raise DocumentError([fault_in(rig, ("instruments", name, "resource"), what, remedy)])


def _simulated(rig: Rig, instrument: Instrument) -> bool:
    if instrument.driver.look is Driver.look:  # it would be opened with its settings
        return False
    driver = make_driver(rig, instrument, Reach(clock=WallClock()))
    try:
        with suppress(Exception, SystemExit):  # nobody there, or a defect
            return driver.look().firmware == SIMULATED_FIRMWARE
        return False
    finally:
        with suppress(Exception, SystemExit):
            driver.close()
