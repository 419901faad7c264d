"""`rigproof flaws`: what can be planted in the simulated rig."""

from __future__ import annotations

import json
from dataclasses import asdict

import click

from rigproof.plugins import load_registry

from .arguments import json_option


@click.command("flaws")
@json_option
def command(as_json: bool) -> None:
    """List the defects that `--flaw NAME[=SIZE]` plants, with their default sizes."""
    found = [flaw for simulator in load_registry().simulators.values() for flaw in simulator.flaws()]
    if as_json:
        click.echo(json.dumps([asdict(flaw) for flaw in found], indent=1, ensure_ascii=False))
        return
    width = max((len(f"{flaw.name}={flaw.size}") for flaw in found), default=0)
    for flaw in found:
        written = f"{flaw.name}={flaw.size}" if flaw.kind else flaw.name
        click.echo(f"{written:{width}}  {flaw.meaning}" + (f" Size: {flaw.quantity}." if flaw.kind else ""))
