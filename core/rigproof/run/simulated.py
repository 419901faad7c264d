"""The simulated rig under the drivers, and the flaws planted in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from rigproof.documents import Rig, simulator_of
from rigproof.errors import QuantityError, UsageError
from rigproof.plugins import Registry
from rigproof.quantities import did_you_mean, parse
from rigproof.simulation import Flaw, Planted, Simulation, Simulator
from rigproof.verdict.record import TwinRecord

from .opening import Reach
from .plan import Plan

TWIN = "twin.yaml"


def find_simulator(folder: Path, registry: Registry) -> Simulator:
    """The simulator that the rig's twin.yaml names."""
    return registry.simulators[simulator_of(folder / TWIN, registry)]


def _meant(name: str, flaws: Iterable[str]) -> str:
    """Where several flaws share a word with it, as `wrong-gain` and `wrong-shunt` do, likeness alone tells nothing."""
    sharing = [flaw for flaw in flaws if set(flaw.split("-")) & set(name.split("-"))]
    return f"did you mean one of {', '.join(sharing)}?" if len(sharing) > 1 else did_you_mean(name, flaws)


def planted(written: Sequence[str], known: Sequence[Flaw]) -> tuple[Planted, ...]:
    """`NAME` or `NAME=SIZE`, each once. Raises `UsageError` with the nearest right name."""
    flaws = {flaw.name: flaw for flaw in known}
    chosen: dict[str, Planted] = {}
    for text in written:
        name, given, size = text.partition("=")
        if name not in flaws:
            raise UsageError(
                f"--flaw {text}: no flaw is called {name!r}; {_meant(name, flaws)} (`rigproof flaws` explains them)"
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


@contextmanager
def on_twin(
    plan: Plan, rig_folder: Path, seed: int, flaws: Sequence[Planted], behind_s: float = 0.0
) -> Iterator[tuple[Reach, TwinRecord]]:
    """The simulated rig of `seed` for one run: how it is reached, and what the verdict says of it.

    A resumed run meets the same truth `behind_s` after its beginning (temperature, what falls due in time); what
    loads have left in the part and its bonds is forgotten, and the noise begins anew.
    """
    rig = simulation(plan.rig, rig_folder, plan.registry, seed, flaws)
    rig.clock.wait(behind_s)
    try:
        yield reach_of(rig), TwinRecord(seed=seed, flaws=tuple(flaw.text for flaw in flaws))
    finally:
        rig.close()
