"""What protects the part by itself or by software, against what the part bears and what the procedure asks of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rigproof.documents import Procedure, Rig, fault_in
from rigproof.documents.bench import Source
from rigproof.documents.relief import ReliefDevice
from rigproof.errors import DocumentError, Fault
from rigproof.quantities import show


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


def refuse_reliefs(rig: Rig, procedure: Procedure) -> None:
    """Raise a `DocumentError` where a relief device opens below a load of the procedure, or only beyond the part."""
    if faults := list(_unfit(rig, procedure)):
        raise DocumentError(faults)


def _unfit(rig: Rig, procedure: Procedure) -> Iterator[Fault]:
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
