"""What workers do in the tests of the engine: found by their name in other processes."""

from __future__ import annotations

import os
from pathlib import Path

from rigproof.campaign.trial import Caught, Result, Trial


def result(trial: Trial) -> Result:
    caught = (Caught(2, "shunt", "shunt reading", "hoop", "", "reject"),) if trial.seed % 3 else ()
    return Result(trial, "reject" if caught else "accept", f"µ {trial.seed}", caught)


def one(folder: Path, trial: Trial) -> Result:
    return result(trial)


def dies_once(folder: Path, trial: Trial) -> Result:
    """A worker that is killed in the middle of the campaign."""
    mark = folder / "died"
    if trial.seed == 5 and not mark.exists():
        mark.touch()
        os._exit(9)
    return result(trial)


def dies(folder: Path, trial: Trial) -> Result:
    os._exit(9)
