"""The plan: documents and plugins resolved into steps, expected values and cautions. Touches no hardware."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rigproof.documents import Procedure, Rig, load_both
from rigproof.documents.rig import Accuracy
from rigproof.plugins import Registry
from rigproof.steps.base import Step
from rigproof.steps.foresee import Foreseen

GENERAL_CAUTIONS = (
    "A software interlock is no protective device: a relief device that was set and proved, a barrier and a competent "
    "person are needed. Local codes and licensed practice come before anything this tool says.",
)


@dataclass(frozen=True)
class Plan:
    """What a run will do and what it will be judged by."""

    rig: Rig
    procedure: Procedure
    registry: Registry

    def foresee(self) -> list[tuple[int, Step, tuple[Foreseen, ...]]]:
        """Expected values and tolerances, step by step."""
        rule = self.procedure.decision
        return [(n, step, tuple(step.foresee(self.rig, rule))) for n, step in enumerate(self.procedure.steps, 1)]

    def cautions(self) -> tuple[str, ...]:
        """What people must mind, for the highest load of the procedure."""
        loads = [step.highest_load() for step in self.procedure.steps if step.loads]
        of_part = (self.rig.part.cautions(max(loads)) if loads else ()) or GENERAL_CAUTIONS
        return (*of_part, *self._unproved())

    def _unproved(self) -> list[str]:
        """What the rig leaves unsaid, so that nobody checks it and the budgets take it as perfect."""
        unknown = [i.name for i in self.rig.instruments.values() if i.identity is None]
        perfect = [c.name for c in self.rig.channels.values() if c.accuracy == Accuracy()]
        found = {
            f"For want of `identity:` nobody checks who answers: {', '.join(unknown)}.": unknown,
            f"For want of `accuracy:` these channels count as without error: {', '.join(perfect)}.": perfect,
        }
        return [text for text, names in found.items() if names]


def make_plan(folder: Path, registry: Registry) -> Plan:
    """Resolve the two documents of a rig folder. Raises `DocumentError` with every fault of both."""
    rig, procedure = load_both(folder, registry)
    return Plan(rig, procedure, registry)
