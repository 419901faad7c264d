"""`rigproof new`: a start for an author of a driver, a step kind or a rig, with tests that pass."""

from __future__ import annotations

import importlib.util
import re
from dataclasses import dataclass
from importlib.resources.abc import Traversable
from math import pi
from pathlib import Path
from string import Template
from tempfile import TemporaryDirectory

import click

from rigproof.errors import DocumentError, QuantityError, UsageError
from rigproof.interlocks import yield_strain
from rigproof.plugins import Registry, load_registry
from rigproof.quantities import parse, show
from rigproof.run.foresight import strain_at
from rigproof.run.odds import unlikely_of
from rigproof.run.plan import Plan, make_plan
from rigproof.run.planned import hopeless_of
from rigproof.starts import Start

from .plan_text import CANNOT, OFTEN

PROOF, TRIP, LIMIT, RANGE = 1.43, 1.5, 1.6, 2.4  # times the working pressure; 1.43: 2014/68/EU, annex I, 7.4
# times what is foreseen at the proof, U included: above what scatters, below what a defect does (judgement)
STRAIN = 1.25
ENDS = "5 %"  # of the volume that nobody can tell from bore and length (judgement)
HOOP, LOAD = "hoop", "pressure"  # channels of the start
FIXED, DRIFT, NOISE = RANGE / 3000, RANGE / 12_000, RANGE / 30_000  # of a fair transmitter of that range (judgement)

_NAME = re.compile(r"[A-Za-z][A-Za-z0-9]*(?:[ _-][A-Za-z0-9]+)*")
_LONGEST_NAME = 40
_SUCH_AS = {"driver": "load indicator", "step": "warm up", "rig": "bay 3"}

_folder_option = click.option(
    "--in",
    "parent",
    type=click.Path(path_type=Path),
    default=Path(),
    help="The folder to make it in; the current one unless given.",
)


@dataclass(frozen=True)
class Names:
    """One name as each place wants it written."""

    kind: str  # as in rig.yaml or acceptance.yaml
    entry: str
    distribution: str
    module: str
    cls: str  # ends in what it is, so that no name can be a word of Python or of the template


@click.group("new")
def command() -> None:
    """Make a start: a plugin package with a driver or a step kind, or a rig. Its tests pass as it stands."""


@command.command("driver")
@click.argument("name")
@_folder_option
def driver(name: str, parent: Path) -> None:
    """Make a plugin package with one driver of an instrument, NAME such as `load indicator`.

    It speaks lines of text; plugins/rigproof_pytest/README.md leads from it to the rig and the real instrument.
    """
    _package("driver", name, parent)


@command.command("step")
@click.argument("name")
@_folder_option
def step(name: str, parent: Path) -> None:
    """Make a plugin package with one step kind, NAME such as `warm up`."""
    _package("step", name, parent)


@command.command("rig")
@click.argument("name")
@click.option("--diameter", default="219.1 mm", show_default=True, help="Outside diameter of the pipe.")
@click.option("--wall", default="4.5 mm", show_default=True, help="Wall thickness of the pipe.")
@click.option("--pressure", default="25 bar", show_default=True, help="Working pressure; the proof is 1.43 times it.")
@click.option("--length", help="Length of the pipe between its ends, for the volume of the water; left out: not told.")
@_folder_option
def rig(name: str, diameter: str, wall: str, pressure: str, length: str | None, parent: Path) -> None:
    """Make a rig folder: a pipe spool under water pressure that passes `check` and can be simulated at once."""
    kind = _checked("rig", name)
    lengths = {"diameter": _positive("--diameter", diameter, "length"), "wall": _positive("--wall", wall, "length")}
    bar = parse(_positive("--pressure", pressure, "gauge pressure"), "gauge pressure").value / 1e5
    factors = {"pressure": 1.0, "proof": PROOF, "trip": TRIP, "limit": LIMIT, "range": RANGE}
    factors |= {"fixed": FIXED, "drift": DRIFT, "noise": NOISE}
    words = {"kind": kind} | lengths | {what: f"{bar * factor:.6g} bar" for what, factor in factors.items()}
    words |= {"volume": _volume(diameter, wall, length), "strain": ""}
    registry = load_registry()
    start = _start("rig", registry)
    with TemporaryDirectory() as draft:
        _write(start, words, Path(draft))
        words["strain"] = _strain_limit(_sound_plan(Path(draft), registry))
        _write(start, words, Path(draft))
        marginal = _marginal(_sound_plan(Path(draft), registry))
    folder = _new_folder(parent, kind.replace(" ", "-"))
    _write(start, words, folder)
    _next(f"rigproof check {folder}", f"rigproof plan {folder}", f"rigproof run {folder} --simulated")
    for text in marginal:
        click.echo(text)


def _volume(diameter: str, wall: str, length: str | None) -> str:
    """The line of the volume: of the bore, or one that says what is missing."""
    if length is None:
        return "# volume: … l ± 2 %                               # bore area × length, and the ends; for stored energy"
    bore_m = parse(diameter, "length").value - 2 * parse(wall, "length").value
    length_m = parse(_positive("--length", length, "length"), "length").value
    litres = f"{1000 * pi / 4 * bore_m**2 * length_m:.4g} l ± {ENDS}"
    return f"volume: {litres:<42} # bore area × {length}; the ends come on top, by the drawing"


def _strain_limit(plan: Plan) -> str:
    """The line of the strain interlock: above what is foreseen at the highest load, below first yield."""
    load = plan.highest_load
    assert load is not None, "the procedure of the start loads the part"
    strain, expanded = strain_at(plan.rig, HOOP, LOAD, load, plan.procedure.decision)
    foreseen, most = strain + expanded, yield_strain(plan.rig, HOOP)
    limit = show(min(STRAIN * foreseen, (foreseen + most) / 2), "strain", 3)
    at = f"foreseen {show(strain, 'strain', 3)} at {show(load, plan.rig.part.load, 4)}"
    return f"hoop strain: {{channel: {HOOP}, above: {limit}}}   # {at}, first yield at {show(most, 'strain', 4)}"


def _marginal(plan: Plan) -> list[str]:
    """What of the procedure such a pipe cannot pass as it is, or often not; the author may choose another load."""
    steps = plan.rehearsed
    hopeless, often = list(hopeless_of(plan.rig, steps)), list(unlikely_of(steps))
    said = [(CANNOT, hopeless), (OFTEN, often)]
    return [line for title, texts in said if texts for line in (f"{title}:", *(f"  - {text}" for text in texts))]


def _sound_plan(draft: Path, registry: Registry) -> Plan:
    """The plan of a draft; `UsageError` where `check` would refuse such a pipe."""
    try:
        return make_plan(draft, registry)
    except DocumentError as error:
        said = "; ".join(f"{fault.where}: {fault.message}" for fault in error.faults)
        raise UsageError(f"no rig of such a pipe: {said}; choose another --diameter, --wall or --pressure") from None


def _package(what: str, name: str, parent: Path) -> None:
    names = _names(what, name)
    registry = load_registry()
    start = _start(what, registry)
    _not_taken(what, names, registry)
    folder = _new_folder(parent, names.distribution)
    _write(start, vars(names), folder)
    _next(f"cd {folder}", 'pip install -e ".[test]"', "pytest")
    click.echo(f"then README.md in {folder} says what to change")


def _checked(what: str, name: str) -> str:
    """The name in small letters with single spaces; `UsageError` unless it is one for every place."""
    if not _NAME.fullmatch(name) or len(name) > _LONGEST_NAME:
        raise UsageError(
            f"NAME={name!r}: a name is up to {_LONGEST_NAME} letters (a to z) and digits, words apart by one space or "
            f'hyphen, and begins with a letter; write one such as "{_SUCH_AS[what]}"'
        )
    return re.sub(r"[_-]", " ", name).lower()


def _names(what: str, name: str) -> Names:
    kind = _checked(what, name)
    return Names(
        kind=kind,
        entry=kind.replace(" ", "-"),
        distribution=f"rigproof-{kind.replace(' ', '-')}",
        module=f"rigproof_{kind.replace(' ', '_')}",
        cls="".join(word.capitalize() for word in (*kind.split(), what)),
    )


def _not_taken(what: str, names: Names, registry: Registry) -> None:
    kinds = registry.drivers if what == "driver" else registry.steps
    taken = (
        (names.kind in kinds, f"a {what} of that name is installed (`rigproof plugins` lists them)"),
        (names.entry in registry.sources, "a plugin of that name is installed (`rigproof plugins` lists them)"),
        (importlib.util.find_spec(names.module) is not None, f"a module {names.module} is installed"),
    )
    for is_taken, why in taken:
        if is_taken:
            raise UsageError(f"NAME={names.kind!r}: {why}; choose another name")


def _positive(option: str, text: str, kind: str) -> str:
    """The quantity as written; `UsageError` unless it is one of `kind` and above 0."""
    try:
        value = parse(text, kind).value
    except QuantityError as error:
        raise UsageError(f"{option}: {error}") from None
    if value <= 0:
        raise UsageError(f"{option} {text!r}: a pipe has one above 0; write it with its unit")
    return text


def _new_folder(parent: Path, name: str) -> Path:
    folder = parent / name
    if folder.exists():
        raise UsageError(f"{folder} is there already; choose another name, or another place with --in")
    try:
        folder.mkdir(parents=True)
    except OSError as error:
        raise UsageError(f"{folder} cannot be made ({error.strerror}); choose another place with --in") from None
    return folder


def _start(what: str, registry: Registry) -> Start:
    if what not in registry.starts:
        raise UsageError(f"new {what}: no installed plugin has a start for a {what}; `rigproof plugins` lists them all")
    return registry.starts[what]


def _write(start: Start, words: dict[str, str], folder: Path) -> None:
    """Fill in the files of a start; `module` in a file's name becomes the module's name."""
    for source, relative in _templates(start.folder()):
        name = relative.removesuffix(".txt").replace("module.py", f"{words.get('module', '')}.py")
        target = folder / name
        target.parent.mkdir(exist_ok=True)
        target.write_text(Template(source.read_text("utf-8")).substitute(words), "utf-8")


def _templates(folder: Traversable, within: str = "") -> list[tuple[Traversable, str]]:
    found: list[tuple[Traversable, str]] = []
    for entry in sorted(folder.iterdir(), key=lambda each: each.name):
        if entry.is_dir():
            found += _templates(entry, f"{within}{entry.name}/")
        else:
            found.append((entry, within + entry.name))
    return found


def _next(*lines: str) -> None:
    click.echo("made; type next:")
    for line in lines:
        click.echo(f"  {line}")
