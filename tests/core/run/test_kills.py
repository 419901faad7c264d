"""A bounded sample of `python tests/kills.py`: nothing acknowledged is lost, and the run goes on to its accept.

In a process of its own, since it forks: pytest has threads.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).parents[2] / "kills.py"


def test_nothing_acknowledged_is_lost_and_the_run_goes_on() -> None:
    command = [sys.executable, str(SCRIPT), "--kills", "8", "--seed", "1"]
    said = subprocess.run(command, capture_output=True, text=True, timeout=600, check=False)
    assert said.returncode == 0, said.stdout + said.stderr
    assert said.stdout.startswith("8 kills, ")
    assert " 0 lost, " in said.stdout
    assert "accept" in said.stdout
