"""Choosing the simulated rig under the drivers, and the flaws planted in it."""

from __future__ import annotations

import json
import socket
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from rigproof.documents import Rig, simulator_of
from rigproof.errors import QuantityError, UsageError
from rigproof.people import Answers
from rigproof.plugins import Registry
from rigproof.quantities import did_you_mean, parse
from rigproof.run.opening import Reach
from rigproof.simulation import Flaw, Planted, Simulation, Simulator

TWIN = "twin.yaml"


def find_simulator(folder: Path, registry: Registry) -> Simulator:
    """The simulator that the rig's twin.yaml names."""
    return registry.simulators[simulator_of(folder / TWIN, registry)]


def planted(written: Sequence[str], known: Sequence[Flaw]) -> tuple[Planted, ...]:
    """`NAME` or `NAME=SIZE`, each once. Raises `UsageError` with the nearest right name."""
    flaws = {flaw.name: flaw for flaw in known}
    chosen: dict[str, Planted] = {}
    for text in written:
        name, given, size = text.partition("=")
        if name not in flaws:
            raise UsageError(
                f"--flaw {text}: no flaw is called {name!r}; {did_you_mean(name, flaws)} `rigproof flaws` explains them"
            )
        if name in chosen:
            raise UsageError(f"--flaw {text}: {name} is planted already; name each flaw once")
        flaw = flaws[name]
        if given and not flaw.kind:
            raise UsageError(f"--flaw {text}: {name} has no size; write --flaw {name}")
        written_size = size if given else flaw.size
        try:
            value = parse(written_size, flaw.kind).value if flaw.kind else None
        except QuantityError as error:
            raise UsageError(f"--flaw {text}: {error}") from None
        chosen[name] = Planted(name, value, f"{name}={written_size}" if flaw.kind else name)
    return tuple(chosen.values())


def simulation(rig: Rig, folder: Path, registry: Registry, seed: int, flaws: Sequence[Planted]) -> Simulation:
    """A simulated rig under the drivers."""
    return find_simulator(folder, registry).open(rig, folder / TWIN, seed, flaws)


def reach_of(simulated: Simulation) -> Reach:
    """How the runner reaches a simulation in its own process."""
    return Reach(
        clock=simulated.clock,
        visa_library=simulated.visa_library,
        simulated=True,
        addresses=simulated.addresses(),
        answers=simulated.answers,
    )


class BenchClock:
    """The time of a served bench: it is asked for, and moved on, over the bench's clock port."""

    def __init__(self, host: str, port: int) -> None:
        try:
            self._socket = socket.create_connection((host, port), timeout=30)
        except OSError as error:
            raise UsageError(
                f"--bench {host}:{port}: nobody answers there ({error.strerror or error}); "
                "start `rigproof bench RIG` first and give the clock port it prints"
            ) from None
        self._lines = self._socket.makefile("r", encoding="ascii", newline="\n")

    def ask(self, text: str) -> str:
        """One line out, one line back."""
        self._socket.sendall(f"{text}\n".encode("ascii"))
        reply = self._lines.readline()
        if not reply:
            raise UsageError("the bench closed its clock port; start it again")
        return reply.rstrip("\n")

    def now(self) -> float:
        """Seconds of the bench's clock."""
        return float(self.ask("now?"))

    def wait(self, seconds: float) -> None:
        """Move the bench's time on."""
        self.ask(f"wait {max(0.0, seconds)!r}")

    def utc(self) -> datetime:
        """Date and time of the bench."""
        return datetime.fromisoformat(self.ask("utc?")).astimezone(UTC)

    def close(self) -> None:
        """Let the bench's time follow the wall clock again."""
        self._lines.close()
        self._socket.close()


@contextmanager
def bench_reach(address: str, answers: Answers | None = None) -> Iterator[Reach]:
    """How the runner reaches a bench served by `rigproof bench`; `address` is HOST:PORT of its clock."""
    host, colon, port = address.rpartition(":")
    if not colon or not port.isdigit():
        raise UsageError(f"--bench {address}: write HOST:PORT, such as 127.0.0.1:15020")
    clock = BenchClock(host, int(port))
    try:
        written: dict[str, str] = json.loads(clock.ask("addresses?"))
        addresses = {resource: address.replace("{host}", host) for resource, address in written.items()}
        yield Reach(clock=clock, visa_library="@py", simulated=True, addresses=addresses, answers=answers)
    finally:
        clock.close()
