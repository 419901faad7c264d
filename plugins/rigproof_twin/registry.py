"""Benches of simulated instruments, and where the VISA backend finds them: by the token before `@rigproof`."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from itertools import count

from rigproof.errors import UsageError
from rigproof_twin.clock import VirtualClock
from rigproof_twin.instruments import SimulatedInstrument
from rigproof_twin.modbus import Station
from rigproof_twin.wire import Exchange


class Bench:
    """Instruments by VISA resource name, Modbus stations by theirs, on one clock.

    Whoever touches any of it from several threads holds `lock`.
    """

    def __init__(
        self,
        clock: VirtualClock,
        instruments: Mapping[str, SimulatedInstrument],
        stations: Mapping[str, Station] | None = None,
    ) -> None:
        self.clock = clock
        self.instruments = dict(instruments)
        self.stations = dict(stations or {})
        self.lock = threading.RLock()

    def connect(self, resource: str, bus: bool) -> Exchange:
        """The exchange of messages with one instrument; KeyError when nothing has that resource name.

        Raises `ConnectionRefusedError` where its link is lost for good.
        """
        return self.instruments[resource].connect(bus)


_benches: dict[str, Bench] = {}
_numbers = count(1)


def add(bench: Bench) -> str:
    """Make a bench known in this process; gives its token. `f"{token}@rigproof"` is its VISA library."""
    token = f"rig{next(_numbers)}"
    _benches[token] = bench
    return token


def remove(token: str) -> None:
    """Forget a bench; resources opened on it go on until they are closed. May be called twice."""
    _benches.pop(token, None)


def find(token: str) -> Bench:
    """The bench of a token; `UsageError` when this process has none of that name."""
    try:
        return _benches[token]
    except KeyError:
        known = ", ".join(_benches) or "none"
        message = f"visa_library='{token}@rigproof': this process has no simulated rig {token!r}. It has: {known}."
        raise UsageError(f"{message} Open a simulation and use its visa_library.") from None
