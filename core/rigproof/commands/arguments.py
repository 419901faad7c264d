"""Arguments that several commands share."""

from __future__ import annotations

from pathlib import Path

import click

rig_argument = click.argument("rig", type=click.Path(path_type=Path))
json_option = click.option("--json", "as_json", is_flag=True, help="For a machine.")
EXIT_CODES = {"accept": 0, "reject": 1, "undecided": 2, "void": 3}
