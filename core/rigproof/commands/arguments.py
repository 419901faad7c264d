"""Arguments that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from rigproof.documents.load import PROCEDURE_FILE


class WholeNumber(click.IntRange):
    """A whole number from `least` to `most`, refused in plain words."""

    def __init__(self, least: int, most: int | None = None) -> None:
        super().__init__(least, most)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """The number, or click's error with what may be written."""
        try:
            return int(super().convert(value, param, ctx))
        except click.BadParameter:
            most = "" if self.max is None else f" and {self.max:,} at most"
            self.fail(f"{value!r} is no whole number, {self.min} at least{most}.", param, ctx)


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
