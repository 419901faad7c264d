"""nightly.yaml: flaws planted in the simulated rig, and the finding that each must lead to."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, WithJsonSchema, model_validator

from rigproof.documents.validation import wrong_values
from rigproof.models import DocumentModel
from rigproof.quantities import WrittenError, did_you_mean, parse
from rigproof.simulation import Flaw

MOST_SEEDS = 10_000
MOST = 100_000  # acceptances of one document
_RANGE = re.compile(r"(\d{1,9}) to (\d{1,9})")


@dataclass(frozen=True)
class MadeCheck:
    """A check that the procedure makes."""

    step: int
    kind: str  # the step's word in the procedure
    name: str
    subject: str


@dataclass(frozen=True)
class NightlyContext:
    """What the rig beside a nightly.yaml has."""

    flaws: Mapping[str, Flaw]
    refuses: Callable[[str], str]  # why the rig cannot have a flaw, written `NAME` or `NAME=SIZE`; "" where it can
    steps: Sequence[str]  # the words of the procedure's steps, in order
    checks: Sequence[MadeCheck]  # of steps that can be rehearsed to their end

    @staticmethod
    def of(info: ValidationInfo) -> NightlyContext | None:
        """The context of a validation; None where the rig itself cannot be read."""
        return info.context if isinstance(info.context, NightlyContext) else None

    def of_step(self, step: str) -> list[MadeCheck]:
        """The checks of a step, by its word or its number."""
        return [each for each in self.checks if step in {each.kind, str(each.step)}]


def _flaw(name: str, info: ValidationInfo) -> str:
    context = NightlyContext.of(info)
    if context is not None and name:
        if name not in context.flaws:
            raise WrittenError(f"no flaw is called {name!r}", did_you_mean(name, context.flaws))
        if said := context.refuses(name):
            raise WrittenError(said, "`rigproof flaws` lists what can be planted")
    return name


def _size(size: str, info: ValidationInfo) -> str:
    context, name = NightlyContext.of(info), info.data.get("flaw")
    if context is None or name is None:  # the flaw itself is wrong, and that is said there
        return size
    if not name or not context.flaws[name].kind:
        what = f"{name} has no size" if name else "a sound rig has no size"
        raise WrittenError(f"{what}: {size!r} is too much", "leave `sizes` out")
    parse(size, context.flaws[name].kind)
    if said := context.refuses(f"{name}={size}"):
        raise WrittenError(said, "`rigproof flaws` says what a size is")
    return size


def _seeds(written: object) -> object:
    """`1 to 20`, or a list of whole numbers."""
    if not isinstance(written, str):
        return written
    match = _RANGE.fullmatch(written)
    if match is None:
        raise WrittenError(f"{written!r} names no seeds", "write `1 to 20`, or a list such as [1, 2, 3]")
    first, last = int(match[1]), int(match[2])
    if not 0 <= last - first < MOST_SEEDS:
        raise WrittenError(f"{written!r} has none, or more than {MOST_SEEDS:,} seeds", "write the smaller number first")
    return list(range(first, last + 1))


def _different(written: Sequence[Any]) -> Sequence[Any]:
    twice = next((one for one, count in Counter(map(plain, written)).items() if count > 1), None)
    if twice is not None:
        raise WrittenError(f"{twice} stands here twice", "write each once")
    return written


def plain(written: object) -> str:
    """A seed or a size as the name of an item has it: `5 %` and `5%` are one."""
    return str(written).replace(" ", "")


Seeds = Annotated[
    list[Annotated[int, Field(ge=0, lt=2**63)]],
    Field(min_length=1, max_length=MOST_SEEDS),
    AfterValidator(_different),
    BeforeValidator(_seeds),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "pattern": r"^\d{1,9} to \d{1,9}$"},
                {"type": "array", "items": {"type": "integer", "minimum": 0}, "minItems": 1},
            ]
        }
    ),
]


def _step(word: str, info: ValidationInfo) -> str:
    context = NightlyContext.of(info)
    if context is not None and word not in {*context.steps, *map(str, range(1, len(context.steps) + 1))}:
        numbered = f"write its word, or its number from 1 to {len(context.steps)}"
        remedy = numbered if word.isdigit() else did_you_mean(word, context.steps)
        raise WrittenError(f"{word!r} is no step of the procedure", remedy)
    return word


def _check(name: str, info: ValidationInfo) -> str:
    context, step = NightlyContext.of(info), info.data.get("step")
    if context is not None and step is not None:
        _known(name, (each.name for each in context.of_step(step)), f"{step} makes no check {name!r}")
    return name


def _subject(subject: str, info: ValidationInfo) -> str:
    context, step, name = NightlyContext.of(info), info.data.get("step"), info.data.get("check")
    if context is not None and step is not None and name is not None:
        checks = (each.subject for each in context.of_step(step) if each.name == name)
        _known(subject, checks, f"{step} checks {name} of no {subject!r}")
    return subject


def _known(word: str, made: Iterable[str], message: str) -> None:
    """A step that cannot be rehearsed to its end does not tell its checks, and none is refused then."""
    known = list(dict.fromkeys(made))
    if known and word not in known:
        raise WrittenError(message, did_you_mean(word, known))


class ExpectedCheck(DocumentModel):
    """A check, as a verdict names it."""

    step: Annotated[str, AfterValidator(_step)]
    """The step's word in the procedure, or its number where two steps have the same word."""
    check: Annotated[str, Field(min_length=1), AfterValidator(_check)]
    """What is checked, such as `zero return`."""
    subject: Annotated[str, Field(min_length=1), AfterValidator(_subject)]
    """Of what: a channel, a source or an interlock of the rig, as in the verdict."""


_KNOWN_BY = {"accept": (), "reject": ("checks",), "undecided": ("checks", "why"), "void": ("why",)}  # by verdict


class NightlyTrial(DocumentModel):
    """One flaw, or none, and what must become of it on every seed."""

    flaw: Annotated[str, AfterValidator(_flaw)] = ""
    """What is planted, see `rigproof flaws`; left out: the rig is sound."""
    sizes: Annotated[
        list[Annotated[str, AfterValidator(_size)]], Field(min_length=1, max_length=1000), AfterValidator(_different)
    ] = Field(default=[], validate_default=False)
    """Each is planted by itself; left out: the flaw's own size."""
    seeds: Seeds | None = None
    """In place of the seeds of the document."""
    verdict: Literal["accept", "reject", "undecided", "void"]
    """Of the whole run."""
    why: str = ""
    """Of a run that ends void or undecided: what its first reason says, or a part of it."""
    checks: tuple[ExpectedCheck, ...] = ()
    """What must be found with that verdict, every one on every seed."""
    also_possible: tuple[ExpectedCheck, ...] = ()
    """What may be found with that verdict besides; any other fails."""

    @model_validator(mode="after")
    def _is_known_by_something(self) -> Self:
        given = {"checks": bool(self.checks or self.also_possible), "why": bool(self.why)}
        known_by = _KNOWN_BY[self.verdict]
        for key in (key for key, there in given.items() if there and key not in known_by):
            raise WrittenError(f"`{key}` tells nothing of a run that ends {self.verdict}", "leave it out")
        if known_by and not any(given.values()):
            said = f"nothing says what a run that ends {self.verdict} is known by"
            raise WrittenError(said, f"write `{known_by[0]}: …`")
        return self


class NightlyDocument(DocumentModel):
    """The content of nightly.yaml."""

    rigproof: Literal["nightly/1"]
    """Format and version of the document."""
    seeds: Seeds
    """Draws of the simulated rig: every trial is taken on each of them."""
    trials: Annotated[list[NightlyTrial], Field(min_length=1, max_length=1000)]
    """What is planted, and what must be found."""

    @model_validator(mode="after")
    def _each_once(self) -> Self:
        """Two trials with the same flaw, size and seed would be one item under two expectations."""
        if (count := sum(len(t.sizes or [""]) * len(t.seeds or self.seeds) for t in self.trials)) > MOST:
            raise WrittenError(f"these are {count:,} acceptances, more than {MOST:,}", "take fewer seeds or sizes")
        seen: set[tuple[str, str, int]] = set()
        twice: dict[tuple[str | int, ...], str] = {}
        for index, trial in enumerate(self.trials):
            here = set(product([trial.flaw], map(plain, trial.sizes or [""]), trial.seeds or self.seeds))
            if both := here & seen:
                flaw, size, seed = min(both)
                what = " ".join(filter(None, (flaw, size))) or "the sound rig"
                twice["trials", index] = f"{what} on seed {seed} stands in an earlier trial, too"
            seen |= here
        if twice:
            raise wrong_values(twice, "expect one thing of it")
        return self
