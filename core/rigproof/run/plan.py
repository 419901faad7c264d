"""The plan: documents and plugins resolved into steps, expected values and cautions. Touches no hardware."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from rigproof.documents import Procedure, Rig, load_both
from rigproof.documents.load import PROCEDURE_FILE
from rigproof.documents.rig import Accuracy, Correction
from rigproof.instruments import Loads
from rigproof.plugins import Registry
from rigproof.steps.arming import arming_cautions

from .course import Move
from .exact import taken_as_exact
from .foresight import (
    beyond_gauges,
    bridges,
    foreseen_course,
    installation,
    refuse_trips,
    strain_at,
    trip_cautions,
    unwatched,
)
from .plausible import doubtful
from .protecting import refuse_unprotected, relief_cautions
from .rehearsal import Rehearsed, rehearse

GENERAL_CAUTIONS = (
    "A software interlock is no protective device: a relief device that was set and proved, a barrier and a competent "
    "person are needed. Local codes and licensed practice come before anything this tool says.",
)

LOCAL_RULES = (
    "The makers' safety data sheets and local rules come before anything that a list of work says; what names no "
    "source there is common practice."
)


@dataclass(frozen=True)
class Plan:
    """What a run will do and what it will be judged by."""

    rig: Rig
    procedure: Procedure
    registry: Registry

    @cached_property
    def rehearsed(self) -> tuple[Rehearsed, ...]:
        """Every step on paper, with its checks as the budgets foresee them."""
        return rehearse(self.rig, self.procedure)

    @cached_property
    def course(self) -> tuple[Move, ...]:
        """The course of the load, where an interlock asks for it."""
        return foreseen_course(self.rig, self.procedure)

    @property
    def highest_load(self) -> float | None:
        """The highest load that any step aims at, base unit; None where nothing is loaded."""
        loads = (step.highest_load() for step in self.procedure.steps if step.loads)
        return max(loads, key=abs, default=None)

    @cached_property
    def cautions(self) -> tuple[str, ...]:
        """What people must mind, for the highest load of the procedure: this rig's own first."""
        load = self.highest_load
        of_part = () if load is None else self.rig.part.cautions(load)
        reliefs = relief_cautions(self.rig, self.procedure)
        return (*self.of_rig(), *self._of_sources(), *reliefs, *(of_part or GENERAL_CAUTIONS), *self._of_work())

    def asking(self) -> tuple[str, ...]:
        """What asks a person: instruments by their names, then steps by number and kind."""
        instruments = [i.name for i in self.rig.instruments.values() if i.driver.asks_a_person]
        return (*instruments, *self.asking_steps())

    def asking_steps(self) -> tuple[str, ...]:
        """The steps that ask a person."""
        return tuple(f"step {n} {s.kind}" for n, s in enumerate(self.procedure.steps, 1) if s.asks_a_person)

    def of_rig(self) -> tuple[str, ...]:
        """What is amiss or unsaid in the two documents, of all cautions."""
        trips = trip_cautions(self.rig, self.procedure, self.course)
        load, rule = self.highest_load, self.procedure.decision
        strained = [] if load is None else beyond_gauges(self.rig, load, rule)
        untested = arming_cautions(self.rig, self.procedure)
        exact = taken_as_exact(self.rig, self.procedure, load)
        unsaid = () if load is None else self.rig.part.unsaid()
        said = (
            *trips,
            *strained,
            *unwatched(self.rig),
            *doubtful(self.rig, self.procedure),
            *untested,
            exact,
            *unsaid,
            *self._of_gauges(),
            *self._by_hand(),
            *self._unproved(),
        )
        return tuple(filter(None, said))

    def highest_strain(self, name: str) -> float:
        """Predicted strain of a channel at the highest load; 0 where nothing is loaded."""
        load = self.highest_load
        if load is None or not self.rig.sources:
            return 0.0
        return strain_at(self.rig, name, next(iter(self.rig.sources.values())).channel, load, self.procedure.decision)[
            0
        ]

    def _of_sources(self) -> list[str]:
        """What the drivers of the sources say of their kind; each sentence once."""
        used = [self.rig.instruments[source.instrument] for source in self.rig.sources.values()]
        found = [text for i in used if issubclass(i.driver, Loads) for text in i.driver.cautions(i.settings)]
        return list(dict.fromkeys(found))

    def _of_gauges(self) -> list[str]:
        """What the bridge models say of the gauges, one sentence for all channels of which it is true."""
        by_text: dict[str, list[str]] = defaultdict(list)
        for name in bridges(self.rig):
            model, installed = installation(self.rig, name, self.highest_strain(name))
            for text in model.cautions(installed):
                by_text[text].append(name)
        return [f"{', '.join(names)}: {text}." for text, names in by_text.items()]

    def _by_hand(self) -> list[str]:
        """What the plan cannot know of the work of people."""
        names = [i.name for i in self.rig.instruments.values() if i.driver.asks_a_person]
        kinds = dict.fromkeys(step.kind for step in self.procedure.steps if step.asks_a_person)
        said = [f"{', '.join(names)}: worked by hand; the time to read and to place comes on top of the duration."]
        guided = [f"{', '.join(kinds)}: a person is guided; what the work takes beyond its least times comes on top."]
        return (said if names else []) + (guided if kinds else [])

    def _of_work(self) -> Iterable[str]:
        """What can hurt somebody at the work that the steps guide; each sentence once."""
        cautions = dict.fromkeys(task.caution for step in self.procedure.steps for task in step.tasks() if task.caution)
        return (*cautions, *((LOCAL_RULES,) if cautions else ()))

    def _unproved(self) -> list[str]:
        """What the rig leaves unsaid, so that nobody checks it and the budgets take it as perfect."""
        unknown = [i.name for i in self.rig.instruments.values() if i.identity is None]
        perfect = [
            c.name for c in self.rig.channels.values() if c.accuracy == Accuracy() and c.correction == Correction()
        ]
        found = {
            f"For want of `identity:` nobody checks who answers: {', '.join(unknown)}.": unknown,
            f"For want of `accuracy:` these channels are taken as free of error: {', '.join(perfect)}.": perfect,
        }
        return [text for text, names in found.items() if names] + [*self._shared(), *self._at_one_port()]

    def _at_one_port(self) -> Iterable[str]:
        """Instruments that speak text at one serial port: nobody but the questions themselves tells them apart."""
        by_port: dict[str, list[str]] = defaultdict(list)
        for each in self.rig.instruments.values():
            port = each.driver.serial_port(each.resource)
            if port is not None and not port.runs:
                by_port[port.name].append(each.name)
        for port_name, names in by_port.items():
            if names[1:]:
                yield (
                    f"{', '.join(names)} are at one serial port, {port_name}: right only where each question names the "
                    "instrument that is to answer; one that sends by itself needs a port of its own."
                )

    def _shared(self) -> Iterable[str]:
        """Inputs that several channels claim: one of them reads the other's gauge."""
        by_input: dict[tuple[str, int], list[str]] = defaultdict(list)
        for channel in self.rig.channels.values():
            by_input[channel.instrument, channel.input].append(channel.name)
        for (instrument, number), names in by_input.items():
            if len(names) > 1:
                yield f"{', '.join(names)} read the same input {number} of {instrument}: correct one of them."


def make_plan(folder: Path, registry: Registry, procedure_file: str = PROCEDURE_FILE) -> Plan:
    """Resolve the two documents of a rig folder. Raises `DocumentError` with every fault of both."""
    rig, procedure = load_both(folder, registry, procedure_file)
    plan = Plan(rig, procedure, registry)
    refuse_unprotected(rig, procedure)
    refuse_trips(rig, procedure, plan.course)
    return plan
