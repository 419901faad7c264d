"""Documents: rig and procedure read, checked, and every error placed at file:line:column."""

from rigproof.documents.answers import YesNo
from rigproof.documents.faults import describe, in_a_line
from rigproof.documents.load import fault_in, fit, load_both, load_procedure, load_rig, read_document, simulator_of
from rigproof.documents.procedure import Procedure
from rigproof.documents.rig import Rig
from rigproof.documents.schema import schema

__all__ = [
    "Procedure",
    "Rig",
    "YesNo",
    "describe",
    "fault_in",
    "fit",
    "in_a_line",
    "load_both",
    "load_procedure",
    "load_rig",
    "read_document",
    "schema",
    "simulator_of",
]
