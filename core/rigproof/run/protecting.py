"""What protects the part by itself or by software, against what the part bears and what the procedure asks of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rigproof.documents import Procedure, Rig, fault_in
from rigproof.documents.bench import Source
from rigproof.documents.relief import ReliefDevice
from rigproof.errors import DocumentError, Fault
from rigproof.interlocks import LimitLock, ShareOfYieldLock, locks_of, yield_strain
from rigproof.quantities import show

from .foresight import bridges

STRAINS = 0.1  # of the strain across: a gauge that strains less along itself does not show that the part yields


@dataclass(frozen=True)
class Relief:
    """The relief device of a source beside the highest load that the procedure asks of it, base units."""

    source: str
    device: ReliefDevice
    step: int  # index of the step that goes highest; -1 where nothing is loaded
    load: float

    @property
    def left(self) -> float:
        """From the highest load to where it may open at the earliest; negative: it opens on the way."""
        return self.device.set_pressure.lower - self.load


def reliefs(rig: Rig, procedure: Procedure) -> Iterator[Relief]:
    """Those that are written in rig.yaml."""
    for source in rig.sources.values():
        if source.relief_device is not None:
            index, load = _highest(source, procedure)
            yield Relief(source.name, source.relief_device, index, load)


def _highest(source: Source, procedure: Procedure) -> tuple[int, float]:
    """The step that goes highest with a source, by its index, and its load; -1 and 0 where none loads by it."""
    loads = [
        (step.highest_load(), -index)
        for index, step in enumerate(procedure.steps)
        if step.loads and getattr(step, "source", source.name) == source.name
    ]
    load, index = max(loads, default=(0.0, 1))
    return -index, load


def refuse_unprotected(rig: Rig, procedure: Procedure) -> None:
    """Raise a `DocumentError` with all that protects nothing.

    A relief device that opens below a load of the procedure, or only beyond what the part bears; an interlock that
    trips only there; the limit of a source beyond it, where no interlock trips before.
    """
    if faults := [*_unfit_reliefs(rig, procedure), *_useless_limits(rig)]:
        raise DocumentError(faults)


def _unfit_reliefs(rig: Rig, procedure: Procedure) -> Iterator[Fault]:
    bears = rig.part.yield_load()
    for relief in reliefs(rig, procedure):
        pressure = relief.device.set_pressure
        path = ("sources", relief.source, "relief device", "set pressure")
        if relief.left <= 0:
            step = procedure.steps[relief.step]
            what = (
                f"{pressure.text!r} is reached from {show(pressure.lower, rig.part.load, 4)} on, and step "
                f"{relief.step + 1} {step.kind} goes to {show(relief.load, rig.part.load, 4)}: it would open on the way"
            )
            yield fault_in(rig, path, what, f"have it set above that, or lower the load in {procedure.file}")
        elif pressure.upper >= bears:
            what = (
                f"{pressure.text!r} may be {show(pressure.upper, rig.part.load, 4)}, and the {rig.part.bears} is "
                f"{show(bears, rig.part.load, 4)}: it would not protect the part"
            )
            yield fault_in(rig, path, what, "have it set below that, and above the highest load of the procedure")


def relief_cautions(rig: Rig, procedure: Procedure) -> list[str]:
    """What people must mind of each relief device, and each source of pressure for which none is written."""
    load, found = rig.part.load, [_of_device(relief, rig.part.load) for relief in reliefs(rig, procedure)]
    for source in rig.sources.values():
        index, highest = _highest(source, procedure)
        if source.relief_device is None and load == "gauge pressure" and index >= 0:
            found.append(
                f"No relief device is written for {source.name}: fit one that opens above {show(highest, load, 4)} and "
                f"below {show(rig.part.yield_load(), load, 4)}, have it proved, and write `relief device: "
                f"{{set pressure: …}}` under `sources: {source.name}:`."
            )
    return found


def _of_device(relief: Relief, kind: str) -> str:
    said = f"The {relief.device.named} of {relief.source} opens at {relief.device.set_pressure.text}"
    above = f", {show(relief.left, 'pressure difference', 2)} above the highest load of {show(relief.load, kind, 4)}"
    named = f" (certificate {relief.device.certificate})" if relief.device.certificate else ""
    return f"{said}{above if relief.step >= 0 else ''}{named}: see that it is fitted, free and proved before any load."


def plain_limits(rig: Rig) -> Iterator[tuple[LimitLock, float, str]]:
    """Every limit on a reading away from zero: the lock, its size in base units and its text."""
    for lock in locks_of(rig):
        if type(lock) is LimitLock:
            upper = [(lock.above.value, lock.above.text)] if lock.above else []
            lower = [(-lock.below.value, lock.below.text)] if lock.below else []
            yield from ((lock, size, text) for size, text in upper or lower if size > 0)


def _at_yield(rig: Rig, channel: str) -> float | None:
    """What a channel shows when the part starts to yield, base units; None where it does not show that."""
    if channel in {source.channel for source in rig.sources.values()}:
        return rig.part.yield_load()
    if channel not in bridges(rig):
        return None
    along, across = rig.part.nominal_strain(rig.gauges[rig.channels[channel].gauge or ""].at)
    return yield_strain(rig, channel) if abs(along) > STRAINS * abs(across) else None


def _useless_limits(rig: Rig) -> Iterator[Fault]:
    for lock, size, text in plain_limits(rig):
        most = _at_yield(rig, lock.channel)
        if most is not None and size > most and lock.name in rig.interlocks:
            key = "above" if lock.above else "below"
            what = f"{text!r} is beyond {_bears(rig, lock, most)}: it trips too late to protect the part"
            remedy = (
                "write a limit below that, a little above what is foreseen at the highest load; where the part bears "
                "more, correct its sizes or strength under `part:`"
            )
            yield fault_in(rig, ("interlocks", lock.name, key), what, remedy)
    for source in rig.sources.values():
        if _too_strong(rig, source) and not _guards(rig, source):
            load = f"{show(rig.part.yield_load(), rig.part.load, 4)}, the {rig.part.bears}"
            what = f"{source.limit.text!r} is beyond {load}, and no interlock trips before: nothing protects the part"
            remedy = f"write an interlock such as `overload: {{channel: {source.channel}, above: …}}`, or a lower limit"
            yield fault_in(rig, ("sources", source.name, "limit"), what, remedy)


def _bears(rig: Rig, lock: LimitLock, most: float) -> str:
    """What the part bears, and of a strain what its channel shows there."""
    load = f"{show(rig.part.yield_load(), rig.part.load, 4)}, the {rig.part.bears} (part model {rig.part.kind!r})"
    return load if lock.measures == rig.part.load else f"{show(most, lock.measures, 4)}, which it shows at {load}"


def _too_strong(rig: Rig, source: Source) -> bool:
    return source.limit.value > rig.part.yield_load()


def _guards(rig: Rig, source: Source) -> list[str]:
    """The interlocks that trip before the part yields under a source, by their names."""
    other_loads = {each.channel for each in rig.sources.values()} - {source.channel}
    found = {
        lock.name
        for lock, size, _ in plain_limits(rig)
        if (most := _at_yield(rig, lock.channel)) is not None and size <= most and lock.channel not in other_loads
    }
    found |= {lock.name for lock in locks_of(rig) if isinstance(lock, ShareOfYieldLock)}
    return [name for name in rig.interlocks if name in found]


def limit_cautions(rig: Rig) -> Iterator[str]:
    """Sources that can go beyond what the part bears, and the interlocks that alone keep them from it."""
    bears = rig.part.yield_load()
    for source in rig.sources.values():
        if _too_strong(rig, source) and (guards := _guards(rig, source)):
            alone = f"interlock {guards[0]!r} alone keeps" if len(guards) == 1 else f"{', '.join(guards)} alone keep"
            yield (
                f"limit of {source.name}: {source.limit.text} is beyond {show(bears, rig.part.load, 4)}, the "
                f"{rig.part.bears}: {alone} the part from it. Write a lower limit, and set the source to it."
            )
