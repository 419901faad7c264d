"""`rigproof schema`: JSON Schema, for editors and for programs; with --text the keys and what they mean, for people."""

from __future__ import annotations

import json

import click

from rigproof.documents import schema
from rigproof.documents.keys import key_list
from rigproof.plugins import load_registry


@click.command("schema")
@click.argument("kind", type=click.Choice(["rig", "procedure", "twin", "nightly", "plan", "event", "verdict"]))
@click.option("--text", is_flag=True, help="The keys and what they mean, for people.")
def command(kind: str, text: bool) -> None:
    """Print the JSON Schema of a document, a plan, the events of a run or a verdict."""
    found = schema(kind, load_registry())
    click.echo(key_list(found) if text else json.dumps(found, indent=1, ensure_ascii=False))
