"""Arguments that several commands share."""

from __future__ import annotations

from pathlib import Path

import click

from rigproof.documents.load import PROCEDURE_FILE

rig_argument = click.argument("rig", type=click.Path(path_type=Path))
procedure_option = click.option(
    "--procedure",
    default=PROCEDURE_FILE,
    show_default=True,
    metavar="FILE",
    help="The procedure, where the folder of the rig holds several.",
)
json_option = click.option("--json", "as_json", is_flag=True, help="For a machine.")
EXIT_CODES = {"accept": 0, "reject": 1, "undecided": 2, "void": 3}
