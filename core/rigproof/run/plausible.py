"""What in the documents is possible and yet hardly meant: whoever knows the trade would ask about it."""

from __future__ import annotations

from collections.abc import Iterator

from rigproof.documents import Procedure, Rig
from rigproof.interlocks import yield_strain
from rigproof.models import DocumentModel
from rigproof.quantities import Within, kind_of, show
from rigproof.quantities.spread import SIGNED_FROM
from rigproof.steps.base import Step
from rigproof.steps.proof import Proof

from .foresight import bridges
from .protecting import limit_cautions, plain_limits
from .unwritten import still_to_write

RISKY = 0.1  # of one decision; JCGM 106:2012 has 5 % in its examples (from memory)
OTHER_FIELD = 0.25  # of the larger strain: far beyond what transverse sensitivity does to one gauge
LEAST_HOLD_S = 600.0


def doubtful(rig: Rig, procedure: Procedure) -> Iterator[str]:
    """One sentence for each."""
    yield from limit_cautions(rig)
    yield from _never_trips(rig)
    yield from _beyond_the_proof(rig, procedure)
    yield from _repeated(procedure)
    yield from _short_holds(procedure)
    yield from _wide_limits(procedure)
    yield from _no_strain(rig)
    yield from _from_the_data(rig)
    yield from still_to_write(rig)


def _never_trips(rig: Rig) -> Iterator[str]:
    """Limits on the load above that of its own source, which is watched as well and trips first."""
    for lock, size, text in plain_limits(rig):
        for source in rig.sources.values():
            if source.channel == lock.channel and size > source.limit.value and lock.name in rig.interlocks:
                yield (
                    f"interlock {lock.name!r} can never trip: at {source.limit.text}, below its {text}, the limit of "
                    f"{source.name} ends the run. Write less than that."
                )


def _beyond_the_proof(rig: Rig, procedure: Procedure) -> Iterator[str]:
    most = rig.part.proof_limit()
    for number, step in enumerate(procedure.steps, 1):
        if step.loads and abs(step.highest_load()) > most:
            yield (
                f"Step {number} {step.kind} goes to {show(step.highest_load(), rig.part.load, 4)}, beyond "
                f"{show(most, rig.part.load, 4)}, the highest proof load of this part."
            )


def _repeated(procedure: Procedure) -> Iterator[str]:
    """Steps taken twice alike, where nothing between them loads the part or may change it: people, or a long wait."""
    seen: list[tuple[int, Step]] = []
    for number, step in enumerate(procedure.steps, 1):
        if step.loads or step.asks_a_person or step.open_wait()[0]:
            seen.clear()
            continue
        if before := [n for n, earlier in seen if type(earlier) is type(step) and earlier == step]:
            yield (
                f"Steps {before[-1]} and {number} {step.kind} are alike, and nothing between them loads the part: the "
                "second shows nothing that the first does not. Leave one out, put it after the load, or correct what "
                "ought to differ."
            )
        seen.append((number, step))


def _short_holds(procedure: Procedure) -> Iterator[str]:
    """EN 13480-5:2002, 9.3.2.2 (seen), and ASME B31.3, 345.2.2 (from memory)."""
    for number, step in enumerate(procedure.steps, 1):
        if isinstance(step, Proof) and step.hold.value < LEAST_HOLD_S:
            rate = kind_of(step.to.kind).rate
            leak = show(step.slowest_leak, rate, 3, f"{kind_of(step.to.kind).shown}/min")
            yield (
                f"Step {number} {step.kind} holds for {step.hold.text}: a leak slower than {leak} stays within "
                f"`decay: {step.decay.text}` and is not found. ASME B31.3 asks for 10 min (from memory), EN 13480-5 "
                "for 30 min."
            )


def _wide_limits(procedure: Procedure) -> Iterator[str]:
    """Limits and a risk that let nearly everything pass."""
    rule = procedure.decision
    if rule.multiple is None and rule.risk > RISKY and rule.rule != "simple acceptance":
        yield (
            f"decision: a risk of {100 * rule.risk:.3g} % leaves hardly a guard band; 5 % is usual, and "
            "`rule: simple acceptance` says that none is wanted."
        )
    for number, step in enumerate(procedure.steps, 1):
        for field, about in type(step).model_fields.items():
            limit = getattr(step, field)
            if isinstance(limit, Within) and limit.relative and limit.limit > SIGNED_FROM:
                yield f"Step {number} {step.kind}: `{about.alias}: {limit.text}` is so wide that hardly a defect shows."


def _no_strain(rig: Rig) -> Iterator[str]:
    """Bridges that add up what their gauges see of another field than the one they are made for."""
    for name in bridges(rig):
        model, gauge = rig.channels[name].reduction, rig.gauges[rig.channels[name].gauge or ""]
        along, across = (abs(strain) for strain in rig.part.nominal_strain(gauge.at))
        shows = yield_strain(rig, name)
        if model is not None and abs(shows - along) > OTHER_FIELD * max(along, across):
            yield (
                f"{name}: where the part strains by {show(along, 'strain', 4)} along the gauge, this {model.kind} "
                f"shows {show(shows, 'strain', 4)}: it is judged by that, and it is no strain of the part."
            )


def _from_the_data(rig: Rig) -> Iterator[str]:
    """Values that nobody wrote and that a table of the part's plugin brought."""
    found = list(_unwritten(rig.part, "part"))
    if found:
        yield f"Not written, and so taken from the built-in table: {', '.join(found)}. Write the certificate's values."


def _unwritten(model: DocumentModel, path: str) -> Iterator[str]:
    for field, about in type(model).model_fields.items():
        value, key = getattr(model, field), about.alias or field
        if isinstance(value, DocumentModel):
            yield from _unwritten(value, f"{path}.{key}")
        elif model.unwritten != "default" and field not in model.model_fields_set:
            yield f"{path}.{key} {value}"
