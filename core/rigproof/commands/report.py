"""`rigproof report`: every report writer that is installed, beside the verdict."""

from __future__ import annotations

from pathlib import Path

import click

from rigproof.errors import UsageError
from rigproof.plugins import load_registry

from .results import read_verdict


@click.command("report")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def command(folder: Path) -> None:
    """Write the reports of the run in DIR."""
    registry = load_registry()
    verdict = read_verdict(folder)
    for writer in registry.reports.values():
        try:
            writer.write(verdict, folder)
        except OSError as error:
            raise UsageError(f"{folder / writer.filename}: cannot be written ({error.strerror})") from None
        click.echo(f"{folder / writer.filename}")
