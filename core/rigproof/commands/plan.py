"""`rigproof plan`: what the run will expect and tolerate, before any hardware."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import click

from rigproof.plugins import load_registry
from rigproof.quantities import show
from rigproof.run.plan import make_plan

from .arguments import json_option, rig_argument


@click.command("plan")
@rig_argument
@json_option
def command(rig: Path, as_json: bool) -> None:
    """Expected values with their computed tolerances, and the cautions, for RIG."""
    plan = make_plan(rig, load_registry())
    steps = plan.foresee()
    if as_json:
        listed = [
            {"step": number, "kind": step.kind, "expected": [asdict(item) for item in found]}
            for number, step, found in steps
        ]
        click.echo(
            json.dumps(
                {"rig": plan.rig.name, "steps": listed, "cautions": plan.cautions()}, indent=1, ensure_ascii=False
            )
        )
        return
    click.echo(f"{plan.procedure.name}, on {plan.rig.name}\n")
    for number, step, found in steps:
        click.echo(f"{number}. {step.kind}")
        for item in found:
            click.echo(
                f"     {item.name} of {item.subject}: {show(item.expected, item.kind, 5)} "
                f"± {show(item.expanded, item.kind, 2)} (computed)"
            )
    click.echo("\ncautions:")
    for caution in plan.cautions():
        click.echo(f"  - {caution}")
