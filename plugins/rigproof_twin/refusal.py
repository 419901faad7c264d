"""What rig.yaml describes and the twin has no physics for, with its place in the document."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rigproof.documents.load import fault_in
from rigproof.errors import DocumentError

if TYPE_CHECKING:
    from rigproof.documents.rig import Rig


def beyond(rig: Rig, path: Sequence[str], message: str, known: Sequence[str]) -> DocumentError:
    """The error to raise: `message` at a path of rig.yaml, and what the twin knows in its place."""
    remedy = f"the twin knows {', '.join(known)}; without `--simulated` nothing stands against it"
    return DocumentError([fault_in(rig, path, message, remedy)])
