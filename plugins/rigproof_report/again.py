"""How a reader makes a verdict again: the commands as they must be typed."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from rigproof.verdict.record import Verdict


def proof_commands(folder: str) -> tuple[str, ...]:
    """Prove the record, and judge it again from its readings."""
    return (
        shlex.join(["rigproof", "verify", folder]),
        shlex.join(["rigproof", "judge", f"{folder}/journal.jsonl", "--out", "judged-again"]),
    )


def run_commands(verdict: Verdict, head: Mapping[str, Any], folder: str) -> tuple[str, ...]:
    """Take the same run again and compare; nothing for a live one, which cannot come again.

    A run on a simulated bench that stands in another process does not name its seed, so it cannot either.
    """
    file = head.get("rig", {}).get("file", "")
    if not file or not (verdict.twin or verdict.replayed):
        return ()
    line = ["rigproof", "run", str(Path(file).parent)]
    if verdict.twin is not None:
        line += ["--simulated", "--seed", str(verdict.twin.seed)]
        line += [word for flaw in verdict.twin.flaws for word in ("--flaw", flaw)]
    else:
        line.append("--replayed")
    return shlex.join([*line, "--out", "run-again"]), shlex.join(["rigproof", "diff", folder, "run-again"])
