"""Every hook a plugin may implement, in the order the tool calls them.

A plugin is a module named by an entry point in the group `rigproof`. It says `RIGPROOF_DOOR = 1` and implements any of
the hooks below with `@hookimpl`. All hooks are called once, when the command starts, and ALL results are collected:
each returns a list, an empty list when it has nothing. A hook must touch no hardware, no file and no network.
Two plugins that supply one kind under one name are a fault, as is a misspelt hook or a wrong argument.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pluggy

if TYPE_CHECKING:
    from rigproof.instruments import Driver
    from rigproof.models import PartModel, ReductionModel, RosetteModel
    from rigproof.reports import ReportWriter
    from rigproof.simulation import Simulator
    from rigproof.starts import Start
    from rigproof.steps.base import Step

GROUP = "rigproof"
DOOR = 1  # the version of these hooks; a plugin written for another one is refused

hookspec = pluggy.HookspecMarker(GROUP)
hookimpl = pluggy.HookimplMarker(GROUP)


@hookspec
def rigproof_part_models() -> list[type[PartModel]]:
    """Part models, by `kind`: the word after `part: {model: …}` in rig.yaml."""
    return []


@hookspec
def rigproof_reduction_models() -> list[type[ReductionModel]]:
    """Reduction models, by `kind`: the word after `reduction: {model: …}` of a channel in rig.yaml."""
    return []


@hookspec
def rigproof_rosette_models() -> list[type[RosetteModel]]:
    """Layouts of rosettes, by `kind`: the word after `layout: {model: …}` of a rosette in rig.yaml."""
    return []


@hookspec
def rigproof_drivers() -> list[type[Driver]]:
    """Instrument drivers, by `kind`: the word after `driver:` of an instrument in rig.yaml."""
    return []


@hookspec
def rigproof_step_kinds() -> list[type[Step]]:
    """Step kinds, by `kind`: the key of a step in acceptance.yaml; classes, one per kind, never instances."""
    return []


@hookspec
def rigproof_simulators() -> list[Simulator]:
    """Simulated rigs that stand under the drivers, by `kind`: the word after `simulator:` in twin.yaml."""
    return []


@hookspec
def rigproof_report_writers() -> list[ReportWriter]:
    """Report writers, by `kind`; each turns a verdict into one file beside it."""
    return []


@hookspec
def rigproof_starts() -> list[Start]:
    """Files that authors begin with, by `kind`: the word after `rigproof new`."""
    return []
