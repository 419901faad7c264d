"""What tests of rosettes share: rigs/branch without its branch, changed, and a rosette that reads given strains."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from rigproof.documents import load_rig
from rigproof.documents.rig import Rig
from rigproof.models import Numbers
from rigproof.plugins import load_registry
from rigproof.steps.rosettes import AtRosette
from rigproof.steps.terms import Term

BRANCH = Path(__file__).parents[3] / "rigs" / "branch"
TRANSVERSE = "transverse sensitivity: 0.6 % ± 0.2 %"


AT_THE_BRANCH = re.compile(r"^  (?:branch|flank[a-z ]*):.*\n(?:    .*\n)*", re.MULTILINE)


def plain_pipe() -> str:
    """The document of rigs/branch without all that belongs to its branch."""
    text = AT_THE_BRANCH.sub("", (BRANCH / "rig.yaml").read_text("utf-8"))
    return changed(text, [("model: branch pipe", "model: cylinder")])


def changed(text: str, changes: Sequence[tuple[str, str]]) -> str:
    """The text with every change, each of which must find something."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


def rig_with(*changes: tuple[str, str]) -> Rig:
    """The plain pipe, its text changed."""
    return load_rig(text=changed(plain_pipe(), changes), registry=load_registry())


def at_rosette(rig: Rig, strains: Sequence[Numbers], load_pa: float = 0.0) -> AtRosette:
    """Its rosette, the elements of which report these strains."""
    terms = tuple(Term(lambda value=value: value, ()) for value in strains)
    return AtRosette(rig, rig.rosettes["shell"], terms, Term(lambda: load_pa, ()))
