"""`rigproof diff`: what a change did to a verdict."""

from __future__ import annotations

import json
from dataclasses import asdict
from itertools import groupby
from pathlib import Path

import click

from rigproof.verdict.difference import differences
from rigproof.verdict.review import review

from .arguments import json_option
from .results import read_verdict


@click.command("diff")
@click.argument("old", type=click.Path(path_type=Path))
@click.argument("new", type=click.Path(path_type=Path))
@click.option("--all", "everything", is_flag=True, help="Every difference, number by number, to 9 digits.")
@json_option
def command(old: Path, new: Path, everything: bool, as_json: bool) -> int:
    """Say what differs between two verdicts: run folders, or verdict.json files.

    First the outcome, findings that changed, margins that moved; what moved by no more than its uncertainty is counted.
    --json has every difference. Exit code 0: nothing differs; 1: something does.
    """
    verdicts = [read_verdict(path.parent if path.is_file() else path) for path in (old, new)]
    found = differences(*verdicts)
    if as_json:
        click.echo(json.dumps([asdict(each) for each in found], ensure_ascii=False, indent=1))
    elif everything and found:
        for where, group in groupby(found, key=lambda each: each.where):
            click.echo(where or "verdict")
            for each in group:
                click.echo(f"  {each.at}: {each.old} -> {each.new}")
        click.echo(f"{len(found)} differences")
    else:
        click.echo("\n".join(review(*verdicts)))
    return 1 if found else 0
