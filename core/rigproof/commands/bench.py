"""`rigproof bench`: the simulated instruments on TCP ports of this machine."""

from __future__ import annotations

import json
import threading
from contextlib import suppress
from pathlib import Path

import click

from rigproof.documents import load_rig
from rigproof.plugins import load_registry
from rigproof.run.simulated import find_simulator, planted, simulation

from .arguments import WholeNumber, json_option, rig_argument
from .screen import SIMULATED


@click.command("bench")
@rig_argument
@click.option(
    "--port",
    type=WholeNumber(0, 65000),
    default=15020,
    show_default=True,
    help="Port of the clock, the instruments follow; 0: any free ones.",
)
@click.option("--flaw", "flaws", multiple=True, metavar="NAME[=SIZE]", help="Plant a defect (see `rigproof flaws`).")
@click.option("--seed", type=WholeNumber(0, 2**63 - 1), default=0, show_default=True, help="Seed of the simulated rig.")
@json_option
def command(rig: Path, port: int, flaws: tuple[str, ...], seed: int, as_json: bool) -> None:
    """Serve the simulated instruments of RIG on 127.0.0.1 until Ctrl-C.

    Time follows the wall clock until a client takes the clock port; `rigproof run RIG --bench 127.0.0.1:PORT` does.
    """
    registry = load_registry()
    described = load_rig(rig / "rig.yaml", registry=registry)
    chosen = planted(flaws, find_simulator(rig, registry).flaws())
    simulated = simulation(described, rig, registry, seed, chosen)
    try:
        service = simulated.serve(port)
        if as_json:
            click.echo(json.dumps({"clock": service.clock_port, "ports": dict(service.ports)}))
        else:
            click.echo(f"{SIMULATED}\n127.0.0.1:{service.clock_port:<6} clock")
            for instrument in described.instruments.values():
                click.echo(
                    f"127.0.0.1:{service.ports[instrument.resource]:<6} {instrument.name}, for {instrument.resource}"
                )
            click.echo("Ctrl-C ends it.")
        with suppress(KeyboardInterrupt):  # the usual way to end a service, and no fault
            threading.Event().wait()
    finally:
        simulated.close()
