"""The procedure as written in acceptance.yaml and as used by everything after it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field, model_validator

from rigproof.documents.chosen import ByKey
from rigproof.models import DocumentModel
from rigproof.quantities import Quantity, WrittenError, parse, quantity
from rigproof.uncertainty import Rule

if TYPE_CHECKING:
    from rigproof.steps.base import Step


Overdue = Literal["refuse", "undecided"]  # what becomes of a run with an instrument whose calibration has run out


class DecisionRule(DocumentModel):
    """How a check becomes a finding (JCGM 106:2012): guard bands by the risk of one decision, or as a multiple of U."""

    rule: Literal["guarded acceptance", "simple acceptance", "guarded rejection"] = "guarded acceptance"
    """What is accepted near a limit: only what surely conforms (guarded acceptance), what reads inside (simple), or
    all that does not surely fail."""
    risk: Annotated[Quantity, quantity("ratio", above="0 %", at_most="50 %")] = parse("5 %", "ratio")
    """Probability that one decision near a limit is wrong; sets the guard band."""
    multiple: Annotated[Quantity | None, quantity("number", at_least="0", at_most="10")] = None
    """Guard band as a multiple of U = 2 u, in place of `risk`."""
    coverage: Annotated[Quantity, quantity("ratio", at_least="50 %", at_most="99.99 %")] = parse("99 %", "ratio")
    """Coverage of the expanded uncertainty that a computed tolerance is."""

    @model_validator(mode="before")
    @classmethod
    def _one_width(cls, written: Any) -> Any:
        if isinstance(written, Mapping) and {"risk", "multiple"} <= written.keys():
            raise WrittenError("`risk` and `multiple` both say how wide a guard band is", "write one of them")
        return written


class ProcedureDocument(DocumentModel):
    """The content of acceptance.yaml."""

    rigproof: Literal["procedure/1"]
    """Format and version of the document."""
    name: Annotated[str, Field(min_length=1, max_length=200)]
    """What the procedure is called in plans and verdicts."""
    decision: DecisionRule = DecisionRule()
    """How a check becomes accept, reject or undecided."""
    overdue_calibration: Overdue = "undecided"
    """What an instrument whose calibration ran out does to a run: it is never accepted, or not begun."""
    steps: Annotated[list[Annotated[Any, ByKey()]], Field(min_length=1, max_length=1000)]
    """What must be shown, in order."""


@dataclass(frozen=True)
class Procedure:
    """What must be shown, in order, and how it is decided."""

    name: str
    decision: Rule
    steps: tuple[Step, ...]
    file: str  # as named by the user, for messages
    text: str  # the document, exactly as written
    sha256: str  # of its bytes
    overdue: Overdue = "undecided"
