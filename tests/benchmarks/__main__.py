"""All benchmarks in one table: `python tests/benchmarks`. Each figure is a ratio of two things measured in turns."""

from __future__ import annotations

import importlib
import sys

MODULES = ("wire", "acceptance", "interlocks", "budget", "montecarlo", "rosette", "start", "journal")


def main() -> None:
    """Measure and print."""
    wanted = sys.argv[1:] or MODULES
    print(f"{'figure':72} {'ratio':>8}  goal")
    for name in wanted:
        for figure, ratio, goal in importlib.import_module(name).rows():
            print(f"{figure:72} {ratio:8.2f}  {goal}", flush=True)


if __name__ == "__main__":
    main()
