"""The procedure as written in acceptance.yaml and as used by everything after it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field

from rigproof.documents.chosen import ByKey
from rigproof.models import DocumentModel
from rigproof.quantities import Quantity, parse, quantity
from rigproof.uncertainty import Rule

if TYPE_CHECKING:
    from rigproof.steps.base import Step


class DecisionRule(DocumentModel):
    """How a check becomes a finding (JCGM 106:2012)."""

    rule: Literal["guarded acceptance", "simple acceptance", "guarded rejection"] = "guarded acceptance"
    risk: Annotated[Quantity, quantity("ratio", above="0 %", at_most="50 %")] = parse("5 %", "ratio")
    coverage: Annotated[Quantity, quantity("ratio", at_least="50 %", at_most="99.99 %")] = parse("99 %", "ratio")


class ProcedureDocument(DocumentModel):
    """The content of acceptance.yaml."""

    rigproof: Literal["procedure/1"]
    name: Annotated[str, Field(min_length=1, max_length=200)]
    decision: DecisionRule = DecisionRule()
    steps: Annotated[list[Annotated[Any, ByKey()]], Field(min_length=1, max_length=1000)]


@dataclass(frozen=True)
class Procedure:
    """What must be shown, in order, and how it is decided."""

    name: str
    decision: Rule
    steps: tuple[Step, ...]
    file: str  # as named by the user, for messages
    text: str  # the document, exactly as written
    sha256: str  # of its bytes
