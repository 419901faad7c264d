"""What many tests need: the installed plugins, the spool, and a run of it without a terminal."""

from __future__ import annotations

import io
import os
import signal
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from rigproof.plugins import Registry, load_registry
from rigproof.run.accepting import run_and_judge
from rigproof.run.plan import Plan, make_plan
from rigproof.run.progress import Progress, Silent
from rigproof.run.simulated import find_simulator, planted, reach_of, simulation
from rigproof.verdict.record import TwinRecord, Verdict

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # a background job of a shell without job control ignores Ctrl-C, and so would the programs that tests stop by it
    signal.signal(signal.SIGINT, signal.default_int_handler)

# no test is timed: a slow or busy machine is no fault of the code
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")

SPOOL = Path(__file__).parent / "rigs" / "spool"
Acceptance = Callable[..., Verdict]


def pytest_xdist_auto_num_workers() -> int:
    """What `-n auto` means here: tests that wait for real time (time-outs, tables that are watched) share a core."""
    return 2 * len(os.sched_getaffinity(0))


@pytest.fixture(scope="session")
def spool_folder() -> Path:
    return SPOOL


@pytest.fixture(scope="session")
def registry() -> Registry:
    return load_registry()


@pytest.fixture(scope="session")
def spool(registry: Registry) -> Plan:
    return make_plan(SPOOL, registry)


@pytest.fixture(scope="session")
def accept() -> Acceptance:
    """A function that takes a plan through one simulated acceptance in a folder."""
    return _accept


def _accept(
    plan: Plan,
    folder: Path,
    flaws: Sequence[str] = (),
    seed: int = 0,
    progress: Progress | None = None,
    rig_folder: Path = SPOOL,
) -> Verdict:
    """One simulated acceptance, judged from its journal."""
    chosen = planted(flaws, find_simulator(rig_folder, plan.registry).flaws())
    rig = simulation(plan.rig, rig_folder, plan.registry, seed, chosen)
    twin = TwinRecord(seed=seed, flaws=tuple(flaw.text for flaw in chosen))
    try:
        return run_and_judge(plan, reach_of(rig), folder, progress or Silent(), twin)
    finally:
        rig.close()


class Echoing(io.StringIO):
    """A screen at whose prompts the next line is typed, which the terminal shows behind the prompt."""

    def __init__(self, keyboard: int, typed: list[str]) -> None:
        super().__init__()
        self._keyboard, self._typed = keyboard, typed

    def write(self, text: str) -> int:
        if text.endswith("> "):
            line = self._typed.pop(0)
            os.write(self._keyboard, f"{line}\n".encode())
            text += f"{line}\n"
        return super().write(text)


@pytest.fixture(scope="session")
def echoing() -> type[Echoing]:
    """The class of such a screen."""
    return Echoing
