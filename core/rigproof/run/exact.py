"""Which written values carry no uncertainty, and so make what is judged by them look surer than it is."""

from __future__ import annotations

from collections.abc import Iterator

from rigproof.documents import Procedure, Rig
from rigproof.quantities import Uncertain
from rigproof.steps.checks import value_of
from rigproof.steps.strains import thermometer, without_warmth
from rigproof.steps.terms import Term, combine, gain_input, predicted_strain, strain
from rigproof.uncertainty import Input

from .foresight import bridges
from .paper import output_under

STEP, STEP_AT_ZERO = 1e-4, 1e-6  # of the value; of a value of 0 in its base unit
NOTICED = 1e-9  # change of the result, as a share of the strain: below is rounding
UNLOADED_OUTPUT = 1e-3  # V/V: what a bridge is looked at with where the procedure loads nothing


def taken_as_exact(rig: Rig, procedure: Procedure, load: float | None) -> str:
    """One sentence that names every value without an uncertainty that some check rests on; "" where there is none."""
    found: dict[str, dict[str, None]] = {}
    for name in bridges(rig):
        for owner, what in _exact_inputs(rig, name, load):
            found.setdefault(owner, {})[what] = None
    for number, step in enumerate(procedure.steps, 1):
        for field, about in type(step).model_fields.items():
            value = getattr(step, field)
            if isinstance(value, Uncertain) and value.u == 0:
                found.setdefault(f"step {number} {step.kind}", {})[about.alias or field] = None
    if not found:
        return ""
    listed = "; ".join(f"{owner}: {', '.join(names)}" for owner, names in found.items())
    return f"Without an uncertainty, and so taken as exact ({listed}): what is judged by these looks surer than it is."


def _exact_inputs(rig: Rig, name: str, load: float | None) -> Iterator[tuple[str, str]]:
    """Owner (part or channel) and name of each exact input on which measured less expected strain depends."""
    term, size = _measured_less_expected(rig, name, load)
    values = [item.value for item in term.inputs]
    owners = ("part", name, *(source.channel for source in rig.sources.values()))
    for at, item in enumerate(term.inputs):
        if item.u > 0:
            continue
        step = STEP * abs(item.value) or STEP_AT_ZERO
        ends = [float(term.function(*values[:at], item.value + turn * step, *values[at + 1 :])) for turn in (1, -1)]
        if abs(ends[0] - ends[1]) > NOTICED * abs(size):  # to both sides: a bore of 0, squared, changes nothing
            owner = next(owner for owner in owners if item.name.startswith((f"{owner} ", f"{owner}: ")))
            yield owner, item.name.removeprefix(owner).lstrip(": ").partition(",")[0]


def _measured_less_expected(rig: Rig, name: str, load: float | None) -> tuple[Term, float]:
    """The difference that a check of a strain channel looks at, one kelvin warmer than its zero, and the strain."""
    expected, output = Term(lambda: 0.0, ()), UNLOADED_OUTPUT
    if load is not None and rig.sources:
        expected = predicted_strain(rig, name, _true_load(rig, load))
        output = output_under(rig, name, load)
    readings = (Input(f"{name} reading", output, abs(output)), Input(f"{name} zero", 0.0, abs(output)))
    measured = strain(rig, name, *readings, "reading")
    size = value_of(measured)
    if thermometer(rig, name) is not None:
        measured = without_warmth(rig, name, measured, Term(lambda: 1.0, ()))
    return combine(lambda shown, wanted: shown - wanted, measured, expected), size


def _true_load(rig: Rig, load: float) -> Term:
    """With the gain alone: a zero that does not drift is a fair thing to say of dead weights."""
    channel = rig.channels[next(iter(rig.sources.values())).channel]
    return Term(lambda gain: load * (1 + gain), (gain_input(channel),))
