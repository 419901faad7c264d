"""`rigproof plugins`: what is installed, where it comes from, what it supplies."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict

import click

from rigproof.plugins import PluginInfo, load_registry

_HEADINGS = ("plugin", "distribution", "module", "supplies")


@click.command("plugins")
@click.option("--json", "as_json", is_flag=True, help="A list of objects, for a machine.")
def command(as_json: bool) -> None:
    """List the installed plugins and what they supply."""
    plugins = load_registry().sources.values()
    if as_json:
        click.echo(json.dumps([asdict(plugin) for plugin in plugins], indent=2, ensure_ascii=False))
    else:
        click.echo(table(plugins))


def table(plugins: Iterable[PluginInfo]) -> str:
    """One row per plugin; each further thing it supplies has a row of its own below."""
    rows: list[Sequence[str]] = [_HEADINGS]
    for plugin in plugins:
        supplied = [f"{what}: {', '.join(kinds)}" for what, kinds in plugin.supplies.items()] or ["nothing"]
        rows.append((plugin.name, f"{plugin.distribution} {plugin.version}", plugin.module, supplied[0]))
        rows += [("", "", "", line) for line in supplied[1:]]
    widths = [max(len(row[column]) for row in rows) for column in range(len(_HEADINGS))]
    padded = ("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows)
    return "\n".join(line.rstrip() for line in padded)
