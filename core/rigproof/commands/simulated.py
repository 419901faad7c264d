"""A simulated rig that is served by `rigproof bench`, in another process."""

from __future__ import annotations

import json
import shlex
import socket
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from rigproof.documents.content import content_of
from rigproof.documents.rig import Rig
from rigproof.errors import UsageError
from rigproof.run.loopback import on_this_machine
from rigproof.run.opening import Reach

_ANSWERS_WITHIN_S = 5.0  # at first; it is at hand
_WAITS_WITHIN_S = 30.0


class BenchClock:
    """The time of a served bench: it is asked for, and moved on, over the bench's clock port."""

    def __init__(self, host: str, port: int) -> None:
        try:
            self._socket = socket.create_connection((host, port), timeout=_ANSWERS_WITHIN_S)
        except OSError as error:
            raise UsageError(
                f"--bench {host}:{port}: nobody answers there ({error.strerror or error}); "
                "start `rigproof bench RIG` first and give the clock port it prints"
            ) from None
        self._lines = self._socket.makefile("r", encoding="ascii", newline="\n")
        self._address = f"{host}:{port}"

    def addresses(self) -> dict[str, str]:
        """What to open instead of each resource; `UsageError` where no clock of a bench answers."""
        try:
            written: dict[str, str] = {str(name): str(at) for name, at in json.loads(self.ask("addresses?")).items()}
        except (OSError, ValueError, AttributeError):  # nothing, or what an instrument says
            raise UsageError(
                f"--bench {self._address}: what answers there is no clock of a bench; "
                "give the clock port that `rigproof bench RIG` prints"
            ) from None
        self._socket.settimeout(_WAITS_WITHIN_S)
        return written

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
def bench_reach(address: str, rig: Rig) -> Iterator[Reach]:
    """How the runner reaches a bench served by `rigproof bench`; `address` is HOST:PORT of its clock.

    Raises `UsageError` where an instrument of `rig` is not served there: what stands at its own resource may be real;
    and where the bench says that it serves another rig.
    """
    host, colon, port = address.rpartition(":")
    if not colon or not port.isdigit():
        raise UsageError(f"--bench {address}: write HOST:PORT, such as 127.0.0.1:15020")
    clock = BenchClock(host, int(port))
    try:
        written = clock.addresses()
        addresses = {resource: address.replace("{host}", host) for resource, address in written.items()}
        hosts = {host, "127.0.0.1", "localhost"} if on_this_machine(host) else {host}
        ports = {address.replace("{host}", each): resource for resource, address in written.items() for each in hosts}
        addresses = {port: addresses[resource] for port, resource in ports.items()} | addresses
        for name, instrument in rig.instruments.items():
            if instrument.resource not in addresses and not instrument.driver.asks_a_person:
                raise UsageError(
                    f"--bench {address}: the bench does not serve {name} ({instrument.resource}), and what stands "
                    "there may be real: nothing was opened; serve this rig, with `rigproof bench` and its own folder"
                )
        _expect_same(address, clock.ask("rig?"), rig, ports)
        yield Reach(clock=clock, visa_library="@py", simulated=True, addresses=addresses)
    finally:
        clock.close()


def _expect_same(address: str, reply: str, rig: Rig, ports: Mapping[str, str]) -> None:
    """Raise `UsageError` where the bench was made from another rig.yaml; one that cannot say so is believed.

    `ports`: the bench's own addresses, where rig.yaml may name them -> the resource that each stands for.
    """
    try:
        served = json.loads(reply)
        theirs, ours = served["content"], content_of(rig, ports)
        name, file = served["name"], served["file"]
    except (KeyError, TypeError, ValueError):  # a simulator of somebody's own has a clock of its own
        return
    if other := [key for key in dict.fromkeys((*ours, *theirs)) if ours.get(key) != theirs.get(key)]:
        raise UsageError(
            f"--bench {address}: the bench serves {name!r} ({file}), and there {', '.join(map(repr, other))} "
            f"{'is' if len(other) == 1 else 'are'} not as in {rig.file}: nothing was opened; "
            f"end it, and serve this rig: `rigproof bench {shlex.quote(str(Path(rig.file).parent))}`"
        )
