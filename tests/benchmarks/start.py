"""Cold start: a new process that prints its help, against a new process that does nothing."""

from __future__ import annotations

import subprocess
import sys
import time
from statistics import median

REPEATS = 15


def seconds(*arguments: str) -> float:
    """Wall time of one new Python process."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start


def rows() -> list[tuple[str, float, str]]:
    """(name, ratio, goal)."""
    pairs = [(seconds("-m", "rigproof", "--help"), seconds("-c", "pass")) for _ in range(REPEATS)]
    return [("rigproof --help / python -c pass", median(a for a, _ in pairs) / median(b for _, b in pairs), "≤ 6")]
