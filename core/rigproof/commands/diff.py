"""`rigproof diff`: what a change did to a verdict."""

from __future__ import annotations

import json
from dataclasses import asdict
from itertools import groupby
from pathlib import Path

import click

from rigproof.verdict.difference import FINE, differences

from .arguments import json_option
from .results import read_verdict


@click.command("diff")
@click.argument("old", type=click.Path(path_type=Path))
@click.argument("new", type=click.Path(path_type=Path))
@click.option("--all", "everything", is_flag=True, help="k, degrees of freedom and guard bands, too")
@json_option
def command(old: Path, new: Path, everything: bool, as_json: bool) -> int:
    """Say what differs between two verdicts: run folders, or verdict.json files. Exit code 0: nothing; 1: something."""
    found = differences(*(read_verdict(path.parent if path.is_file() else path) for path in (old, new)))
    told = [each for each in found if everything or not each.where or each.at not in FINE]
    if as_json:
        click.echo(json.dumps([asdict(each) for each in found], ensure_ascii=False, indent=1))
    else:
        for where, group in groupby(told, key=lambda each: each.where):
            click.echo(where or "verdict")
            for each in group:
                click.echo(f"  {each.at}: {each.old} -> {each.new}")
        left = f", {len(found) - len(told)} of them left out (--all)" if len(told) < len(found) else ""
        click.echo(f"{len(found)} differences{left}" if found else "nothing differs")
    return 1 if found else 0
