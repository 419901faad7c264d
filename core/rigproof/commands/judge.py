"""`rigproof judge`: the verdict again, from the record alone."""

from __future__ import annotations

from pathlib import Path

import click

from rigproof.errors import UsageError
from rigproof.journal import read_journal
from rigproof.plugins import load_registry
from rigproof.run.accepting import keep
from rigproof.run.runner import JOURNAL
from rigproof.verdict.judging import judge
from rigproof.verdict.record import to_bytes

from .arguments import EXIT_CODES, json_option
from .screen import print_verdict


@click.command("judge")
@click.argument("journal", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Folder for verdict.json.")
@json_option
def command(journal: Path, out: Path, as_json: bool) -> int:
    """Judge JOURNAL, or the run in a folder, again; the same journal and plugins give the same bytes."""
    verdict = judge(read_journal(journal / JOURNAL if journal.is_dir() else journal), load_registry())
    try:
        out.mkdir(parents=True, exist_ok=True)
        keep(verdict, out)
    except OSError as error:
        raise UsageError(f"--out {out}: cannot be written ({error.strerror}); choose another folder") from None
    if as_json:
        click.echo(to_bytes(verdict).decode("utf-8"), nl=False)
    else:
        print_verdict(verdict, out)
    return EXIT_CODES[verdict.verdict]
