"""Classes of a transducer as a procedure states them: for each class a limit to each figure, and who says so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated

from rigproof.models import DocumentModel
from rigproof.quantities import Quantity, Within, quantity, within
from rigproof.uncertainty import Estimate, Rule, Tolerance
from rigproof.verdict.record import Check

from .checks import Subject, specified_check, standing
from .record import StepRecord

Limit = Annotated[Within, within("ratio")]


class ClassLimits(DocumentModel):
    """The limits of one class, shares of the deflection."""

    reproducibility: Limit
    """Largest difference between positions at one force."""
    repeatability: Limit
    """Difference of two series in one position at one force."""
    interpolation: Limit
    """Departure of the mean from the fitted curve."""
    reversibility: Limit
    """Difference of the two branches at one force, mean of the positions."""
    zero: Limit
    """Change of the zero over a series, of the deflection at the top."""
    creep: Limit
    """Change of the output between the two readings after a change of force, of the deflection at the top."""
    applied_force: Annotated[Quantity | None, quantity("ratio", above="0 %")] = None
    """Highest expanded uncertainty (k = 2) of the force that is applied."""

    def limit(self, figure: str) -> Within:
        """The limit of a figure by its name."""
        found = getattr(self, figure)
        assert isinstance(found, Within), f"{figure} is no figure of a class"
        return found


def class_check(
    record: StepRecord,
    candidates: Sequence[tuple[Subject, Estimate]],
    classes: Mapping[str, ClassLimits],
    wanted: str,
    rule: Rule,
    origin: str,
) -> Check:
    """A figure, wherever it can be looked at, against the wanted class: the check that is the least sure to conform.

    Its note says which class the figure alone would give: the first of the table, which is written from the narrowest
    class on, by whose limit all are accepted.
    """

    def against(name: str) -> list[Check]:
        return [
            _check(record, about, estimate, classes[name], rule, f"{origin}, class {name}")
            for about, estimate in candidates
        ]

    given = next((name for name in classes if all(check.finding == "accept" for check in against(name))), None)
    note = f"class {given} by this figure" if given is not None else "no class of the table by this figure"
    return min(against(wanted), key=standing).model_copy(update={"note": note})


def _check(
    record: StepRecord, about: Subject, estimate: Estimate, limits: ClassLimits, rule: Rule, origin: str
) -> Check:
    limit = limits.limit(about.name)
    tolerance = Tolerance(-limit.limit, limit.limit)
    return specified_check(record, about, estimate, tolerance, rule, f"{origin}: {limit.text}")
