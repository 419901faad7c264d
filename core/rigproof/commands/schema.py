"""`rigproof schema`: JSON Schema, for editors and for programs that read plans, events and verdicts."""

from __future__ import annotations

import json

import click

from rigproof.documents import schema
from rigproof.plugins import load_registry


@click.command("schema")
@click.argument("kind", type=click.Choice(["rig", "procedure", "nightly", "plan", "event", "verdict"]))
def command(kind: str) -> None:
    """Print the JSON Schema of a rig, a procedure, a nightly.yaml, a plan, the events of a run or a verdict."""
    click.echo(json.dumps(schema(kind, load_registry()), indent=1, ensure_ascii=False))
