"""How a reader makes a verdict again: the commands as they must be typed."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from rigproof.verdict.record import Verdict

PROCEDURE = "acceptance.yaml"  # what `rigproof run` takes where none is named


def why_not(verdict: Verdict) -> str:
    """Why a run cannot be taken again; "" where it can."""
    if verdict.resumed:
        return "it was cut off or suspended, and resumed"
    if verdict.twin or verdict.replayed:
        return ""
    return "its simulated bench stood in another process" if verdict.simulated else "it was a live one"


def proof_commands(folder: str) -> tuple[str, ...]:
    """Prove the record, and judge it again from its readings."""
    return (
        shlex.join(["rigproof", "verify", folder]),
        shlex.join(["rigproof", "judge", f"{folder}/journal.jsonl", "--out", "judged-again"]),
    )


def run_commands(verdict: Verdict, head: Mapping[str, Any], folder: str) -> tuple[str, ...]:
    """Take the same run again and compare; nothing where `why_not` says why it cannot come again."""
    if why_not(verdict):
        return ()
    line = ["rigproof", "run", str(Path(head["rig"]["file"]).parent)]
    if (procedure := Path(head["procedure"]["file"]).name) != PROCEDURE:
        line += ["--procedure", procedure]
    if verdict.twin is not None:
        line += ["--simulated", "--seed", str(verdict.twin.seed)]
        line += [word for flaw in verdict.twin.flaws for word in ("--flaw", flaw)]
    else:
        line.append("--replayed")
    return shlex.join([*line, "--out", "run-again"]), shlex.join(["rigproof", "diff", folder, "run-again"])
