"""Documents from files, or from the text a journal keeps. All faults of a document come in one DocumentError."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from rigproof.documents.context import Context
from rigproof.documents.faults import faults_of, in_order
from rigproof.documents.procedure import Procedure, ProcedureDocument
from rigproof.documents.reader import read_tree
from rigproof.documents.rig import Rig, RigDocument, completed
from rigproof.documents.source import Source, read_source, source_of
from rigproof.documents.tree import Node, find, path_of
from rigproof.documents.twin import TwinHeader
from rigproof.documents.validation import checked
from rigproof.errors import DocumentError, Fault, PluginFault, RigproofError
from rigproof.plugins import what_broke
from rigproof.uncertainty import Rule

if TYPE_CHECKING:
    from rigproof.plugins import Registry
    from rigproof.steps.base import Step

RIG_FILE = "rig.yaml"
PROCEDURE_FILE = "acceptance.yaml"

M = TypeVar("M", bound=BaseModel)


def load_rig(
    path: str | PathLike[str] | None = None,
    registry: Registry | None = None,
    *,
    text: str | None = None,
    name: str = RIG_FILE,
) -> Rig:
    """Read a rig from a file, or from `text` that messages call `name`; without a registry every plugin is loaded.

    Raises DocumentError with every fault of the document.
    """
    source = _source(path, text, name)
    found = _read(RigDocument, source, partial(Context, _registry(registry)))
    return Rig(
        name=found.name,
        part=found.part,
        gauges=found.gauges,
        channels=completed(found.channels, found.instruments),
        instruments=found.instruments,
        sources=found.sources,
        interlocks=found.interlocks,
        file=source.file,
        text=source.text,
        sha256=source.sha256,
        rosettes=found.rosettes,
        site=found.site or "",
    )


def load_procedure(
    path: str | PathLike[str] | None = None,
    registry: Registry | None = None,
    *,
    text: str | None = None,
    name: str = PROCEDURE_FILE,
) -> Procedure:
    """Read a procedure, as `load_rig` reads a rig. What it asks of a rig is not looked at here, see `fit`."""
    source = _source(path, text, name)
    found = _read(ProcedureDocument, source, partial(Context, _registry(registry)))
    decision, multiple = found.decision, found.decision.multiple
    rule = Rule(
        decision.rule, decision.risk.value, decision.coverage.value, None if multiple is None else multiple.value
    )
    return Procedure(
        found.name, rule, tuple(found.steps), source.file, source.text, source.sha256, found.overdue_calibration
    )


def load_both(
    folder: str | PathLike[str], registry: Registry | None = None, procedure_file: str = PROCEDURE_FILE
) -> tuple[Rig, Procedure]:
    """Read rig.yaml and a procedure of a folder and see that they fit; one DocumentError has the faults of both."""
    where, kinds = Path(folder), _registry(registry)
    if not where.is_dir():
        said = "is a file, and a rig is a folder" if where.exists() else "there is no such folder"
        raise DocumentError(
            [Fault(str(where), 0, 0, "document", said, f"name a folder with {RIG_FILE} and {PROCEDURE_FILE}")]
        )
    rig, procedure = None, None
    faults: list[Fault] = []
    try:
        rig = load_rig(where / RIG_FILE, kinds)
    except DocumentError as error:
        faults += error.faults
    try:
        procedure = load_procedure(where / procedure_file, kinds)
    except DocumentError as error:
        faults += error.faults
    if rig is None or procedure is None:
        raise DocumentError(faults)
    fit(rig, procedure)
    return rig, procedure


def fit(rig: Rig, procedure: Procedure) -> None:
    """See that every step of a procedure can be taken on a rig, and that what it judges by states its accuracy.

    A DocumentError places what cannot be in the procedure or in the rig.
    """
    source = Source(procedure.file, procedure.text)
    root, of_its_form = read_tree(source)
    faults = list(of_its_form)
    if root is None:
        raise DocumentError(faults)
    for index, step in enumerate(procedure.steps):
        for key, message, remedy in _problems(step, rig, procedure.steps[:index]):
            found = find(root, ("steps", index, step.kind, *path_of(key)))
            mark = found.value if found.whole else found.key
            faults.append(source.fault(mark.line, mark.column, found.where, message, remedy, mark.width))
    faults += _without_accuracy(rig, procedure) if not faults else []
    if faults:
        raise DocumentError(in_order(faults))


def _without_accuracy(rig: Rig, procedure: Procedure) -> list[Fault]:
    """Channels that a step judges strain or load by and that state no error: every tolerance would be too narrow."""
    judged: dict[str, str] = {}
    for number, step in enumerate(procedure.steps, 1):
        for name in step.rests_on(rig):
            judged.setdefault(name, f"step {number} {step.kind}")
    return [
        fault_in(
            rig,
            ("channels", name),
            f"{by} judges by this channel, and no `accuracy:` says how wrong it may read",
            "add what its data sheet or certificate states, such as {of reading: …, fixed: …, zero drift: …}",
        )
        for name, by in judged.items()
        if not rig.channels[name].states_its_error
    ]


def fault_in(document: Rig | Procedure, path: Sequence[str | int], message: str, remedy: str) -> Fault:
    """A fault at a place of rig.yaml or acceptance.yaml, found after the document was read."""
    source = Source(document.file, document.text)
    root, _ = read_tree(source)
    assert root is not None, "the document was read from it"
    found = find(root, path)
    mark = found.value if found.whole else found.key
    return source.fault(mark.line, mark.column, found.where, message, remedy, mark.width)


def read_document(
    model: type[M],
    path: str | PathLike[str] | None = None,
    *,
    text: str | None = None,
    name: str = "document",
    context: object = None,
) -> M:
    """Read a plugin's own document into its model, with the same rules and messages as the tool's own.

    The model has a field `rigproof: Literal["twin/1"]` that names format and version; `context` goes to its validators.
    """
    return _read(model, _source(path, text, name), lambda _: context)


def simulator_of(path: str | PathLike[str], registry: Registry | None = None) -> str:
    """The simulator that a twin.yaml names; the rest of that document is the simulator's own business."""
    if not Path(path).exists():
        said = "is not there: it says how the simulated rig behaves, and without it nothing can be simulated"
        remedy = "write one (`rigproof new rig NAME` makes an example, `rigproof schema twin --text` lists its keys)"
        raise DocumentError([Fault(str(path), 0, 0, "document", said, remedy)])
    return _read(TwinHeader, read_source(Path(path)), partial(Context, _registry(registry))).simulator


def _source(path: str | PathLike[str] | None, text: str | None, name: str) -> Source:
    if (path is None) == (text is None):
        raise TypeError("a document comes from a path or from a text, and from one of them only")
    return source_of(text, name) if text is not None else read_source(Path(path or ""))


def _registry(registry: Registry | None) -> Registry:
    if registry is not None:
        return registry
    from rigproof.plugins import load_registry

    return load_registry()


def _read(model: type[M], source: Source, context_of: Callable[[Mapping[str, Any]], object]) -> M:
    (wanted,) = get_args(model.model_fields["rigproof"].annotation)
    root, faults = read_tree(source, wanted)
    if root is None:
        raise DocumentError(in_order(faults))
    wrong_format = _format_fault(wanted, source, root)
    if wrong_format is not None:
        raise DocumentError([wrong_format])
    written = root.plain()
    try:
        document = checked(model, written, context_of(written))
    except ValidationError as error:
        raise DocumentError(in_order([*faults, *faults_of(error, source, root)])) from None
    if faults:
        raise DocumentError(in_order(faults))
    return document


def _format_fault(wanted: str, source: Source, root: Node) -> Fault | None:
    """A fault where the document is of another format or version: then every other message would mislead."""
    header = f"rigproof: {wanted}"
    if not isinstance(root.value, dict):
        said = "a document is made of lines `key: value`"
        return source.fault(root.mark.line, root.mark.column, "document", said, f"begin it with `{header}`")
    node = root.value.get("rigproof")
    if node is None:
        return None  # the model says that it is missing, together with all other faults
    written = node.value
    mark = root.keys["rigproof"] if written is None else node.mark
    kind = wanted.partition("/")[0]
    if written == wanted:
        first = next(iter(root.value))
        key = root.keys["rigproof"]
        said = f"`{header}` is not the first key"
        return (
            None if first == "rigproof" else source.fault(key.line, key.column, "rigproof", said, "move it to the top")
        )
    if isinstance(written, str) and written.partition("/")[0] == kind:
        said = f"{written!r} is another version of the format; this rigproof reads {wanted}"
        remedy = f"write `{header}` and mend what is then wrong, or use the rigproof it was written for"
    else:
        begins = f"rigproof: {written}" if isinstance(written, str) else "rigproof:"
        said, remedy = f"this is no {kind}: it begins `{begins}`", f"name a file that begins `{header}`"
    return source.fault(mark.line, mark.column, "rigproof", said, remedy, mark.width)


def _problems(step: Step, rig: Rig, earlier: Sequence[Step]) -> list[tuple[str, str, str]]:
    try:
        return [*step.problems(rig), *step.follows(earlier)]
    except RigproofError:
        raise
    except Exception as error:
        raise PluginFault(f"step {step.kind!r} broke while it looked at a rig: {what_broke(error)}") from error
