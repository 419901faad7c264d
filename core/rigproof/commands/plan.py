"""`rigproof plan`: what the run will do, expect and tolerate, before any hardware."""

from __future__ import annotations

import json
from pathlib import Path

import click

from rigproof.plugins import load_registry
from rigproof.run.plan import make_plan
from rigproof.run.planned import planned

from .arguments import json_option, procedure_option, rig_argument
from .plan_text import text_of


@click.command("plan")
@rig_argument
@procedure_option
@json_option
def command(rig: Path, procedure: str, as_json: bool) -> None:
    """Predicted strains, gauges, steps with their tolerances, interlocks and cautions for RIG, before any hardware."""
    record = planned(make_plan(rig, load_registry(), procedure))
    if as_json:
        click.echo(json.dumps(record.model_dump(mode="json"), indent=1, ensure_ascii=False, allow_nan=False))
    else:
        click.echo(text_of(record))
