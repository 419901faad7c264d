"""What a message costs through PyVISA down to a simulated instrument, against the least it could and pyvisa-sim.

The least is PyVISA's own front end over a backend that does nothing, plus the simulated instrument called directly.
The sides take turns, so that a busy machine hits all of them; medians of many turns are compared.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from itertools import count
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pyvisa
from pyvisa.constants import ResourceAttribute, StatusCode
from pyvisa.highlevel import VisaLibraryBase
from pyvisa.resources import MessageBasedResource

from rigproof_twin.instruments import SimulatedInstrument, build
from rigproof_twin.instruments.bridge_amplifier import block
from rigproof_twin.interface import Appearance
from rigproof_twin.registry import Bench, add, remove
from rigproof_twin.still import StillWorld

REPEATS = 60
TURN_S = 1e-3
SOCKET = "TCPIP0::192.0.2.11::5025::SOCKET"
BUS = "GPIB0::5::INSTR"
TEXT = "SENS:SWE:POIN?"  # the cheapest query that is a real one, so that what stands around it shows
SCANS = 1000
SETTINGS = f"SENS:SWE:POIN {SCANS};TINT 1E-3;:FORM REAL,64"
BLOCK_REPLY = block(np.linspace(-1e-3, 1e-3, SCANS)) + b"\n"

DIALOGUES = f"""
spec: "1.1"
devices:
  amplifier:
    eom:
      GPIB INSTR: {{q: "\\n", r: "\\n"}}
    dialogues:
      - {{q: "{TEXT}", r: "1000"}}
      - {{q: "READ?", r: "#48000{"0" * 8000}"}}
resources:
  {BUS}: {{device: amplifier}}
"""


class DoNothingLibrary(VisaLibraryBase):
    """The least a backend can be: it answers from two constants and keeps no state."""

    def _init(self) -> None:
        self._handles = count(1)

    def open_default_resource_manager(self) -> Any:
        return next(self._handles), StatusCode.success

    def open(self, session: Any, resource_name: str, access_mode: Any = None, open_timeout: Any = 0) -> Any:
        return next(self._handles), StatusCode.success

    def close(self, session: Any) -> Any:
        return StatusCode.success

    def disable_event(self, session: Any, event_type: Any, mechanism: Any) -> Any:
        return StatusCode.success

    def discard_events(self, session: Any, event_type: Any, mechanism: Any) -> Any:
        return StatusCode.success

    def set_attribute(self, session: Any, attribute: ResourceAttribute, attribute_state: Any) -> Any:
        return StatusCode.success

    def write(self, session: Any, data: bytes) -> Any:
        self.reply = b"1000\n" if data.startswith(b"SENS") else BLOCK_REPLY
        return len(data), StatusCode.success

    def read(self, session: Any, count: int) -> Any:
        return self.reply, StatusCode.success


def rows() -> list[tuple[str, float, str]]:
    """(name, ratio, goal) of each figure measured here."""
    with ExitStack() as stack:
        amplifier = an_amplifier()
        ours, ours_on_bus = stack.enter_context(in_process(amplifier))
        bare, bare_on_bus = amplifier.connect(bus=False), an_amplifier().connect(bus=True)
        bare_on_bus.write(SETTINGS.encode())
        nothing = stack.enter_context(opened(DoNothingLibrary("nothing"), SOCKET))
        simulated = stack.enter_context(pyvisa_sim())
        ours.write(SETTINGS)

        def bare_query() -> None:
            bare.write(TEXT.encode() + b"\n")
            bare.read(20480, 10, 2.0)

        def bare_block() -> None:
            bare_on_bus.write(b"READ?\n")
            bare_on_bus.read(20480, None, 2.0)

        text = medians(
            lambda: ours.query(TEXT),
            bare_query,
            lambda: nothing.query(TEXT),
            lambda: simulated.query(TEXT),
        )
        blocks = medians(
            lambda: values(ours_on_bus),
            bare_block,
            lambda: values(nothing),
            lambda: simulated_values(simulated),
        )
    return [
        ("text query, times PyVISA over nothing plus the bare instrument", text[0] / (text[2] + text[1]), "≤ 2"),
        ("text query, times pyvisa-sim", text[0] / text[3], "≤ 1"),
        ("block of 1,000, times PyVISA over nothing plus the bare one", blocks[0] / (blocks[2] + blocks[1]), "≤ 2"),
        ("block of 1,000, times pyvisa-sim", blocks[0] / blocks[3], "≤ 0.5"),
    ]


def an_amplifier() -> SimulatedInstrument:
    appearance = Appearance("Test bay", "amplifier", "1", "1.0", latency_s=1e-3, noise=3e-8, resolution=5e-9)
    return build("bridge amplifier", StillWorld(), appearance, np.random.default_rng(1))


@contextmanager
def in_process(amplifier: SimulatedInstrument) -> Iterator[tuple[MessageBasedResource, MessageBasedResource]]:
    """The amplifier through PyVISA, as a raw socket and on a bus."""
    token = add(Bench(amplifier.clock, {SOCKET: amplifier, BUS: amplifier}))
    library = f"{token}@rigproof"
    with opened(library, SOCKET) as stream, opened(library, BUS) as bus:
        bus.read_termination = None  # END is enough, and a block may hold any byte
        yield stream, bus
    remove(token)


@contextmanager
def pyvisa_sim() -> Iterator[MessageBasedResource]:
    with TemporaryDirectory() as folder:
        path = Path(folder, "dialogues.yaml")
        path.write_text(DIALOGUES, "utf-8")
        with opened(f"{path}@sim", BUS) as resource:
            yield resource


@contextmanager
def opened(library: str | VisaLibraryBase, name: str) -> Iterator[MessageBasedResource]:
    manager = pyvisa.ResourceManager(library)
    resource = manager.open_resource(name)
    assert isinstance(resource, MessageBasedResource)
    resource.read_termination = resource.write_termination = "\n"
    yield resource
    resource.close()


def values(resource: MessageBasedResource) -> None:
    got = resource.query_binary_values("READ?", "d", is_big_endian=True, container=np.ndarray)
    assert len(got) == SCANS


def simulated_values(resource: MessageBasedResource) -> None:
    """As many bytes from pyvisa-sim, which can send no binary numbers unharmed."""
    assert len(resource.query("READ?")) == len(BLOCK_REPLY) - 1


def medians(*jobs: Callable[[], object]) -> list[float]:
    """Median seconds of each job. They take turns of equal length, and never in the same order.

    After a long turn a busy machine gives the processor to others: the job that always came next would look slow.
    """
    loops = {job: max(1, round(TURN_S / seconds(job, 5))) for job in jobs}
    taken: dict[Callable[[], object], list[float]] = {job: [] for job in jobs}
    order = list(jobs)
    for _ in range(REPEATS):
        order = [*order[1:], order[0]]
        for job in order:
            taken[job].append(seconds(job, loops[job]))
    return [median(taken[job]) for job in jobs]


def seconds(job: Callable[[], object], loops: int) -> float:
    job()  # the job before has left the caches full of its own
    start = time.perf_counter()
    for _ in range(loops):
        job()
    return (time.perf_counter() - start) / loops


if __name__ == "__main__":
    for name, ratio, goal in rows():
        print(f"{name}: {ratio:.2f} (goal {goal})")  # noqa: T201
