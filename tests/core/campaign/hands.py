"""Jobs that workers do in the tests: found by their name in other processes."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from pathlib import Path

from rigproof.campaign.trial import Caught, Result, Trial


def result(trial: Trial) -> Result:
    caught = (Caught(2, "shunt", "shunt reading", "hoop", "", "reject"),) if trial.seed % 3 else ()
    return Result(trial, "reject" if caught else "accept", f"µ {trial.seed}", caught)


@dataclass(frozen=True)
class DiesOnce:
    """A worker that is killed in the middle of the campaign, by a signal that no code can catch."""

    folder: Path

    def __call__(self, trial: Trial) -> Result:
        mark = self.folder / "died"
        if trial.seed == 5 and not mark.exists():
            mark.touch()
            os.kill(os.getpid(), 9)
        return result(trial)


def dies(trial: Trial) -> Result:
    os._exit(9)


def slow(trial: Trial) -> Result:
    """Long enough for a worker to be killed from outside while it has work."""
    time.sleep(0.05)
    return result(trial)
