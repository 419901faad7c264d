"""Driver `manual source`: a person places dead weights and confirms each by its mark."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite, nan
from typing import Annotated, ClassVar

import numpy as np
from pydantic import Field, field_validator

from rigproof.documents.accuracy import Accuracy
from rigproof.errors import InstrumentError
from rigproof.instruments import Driver, FloatArray, Identity, Loads, Reads, Settings
from rigproof.people import Question, Wants
from rigproof.quantities import Uncertain, WrittenError, parse_uncertain, uncertain
from rigproof_manual.asking import check_by_hand, identify
from rigproof_manual.weights import MOST, Weights, moves

SAFE_PATIENCE_S = 300.0  # how long a person may take to unload before the run says that nobody confirmed it

CAUTIONS = (
    "Weights fall: stand clear with feet and head, wear safety shoes, lift with both hands and within your strength, "
    "and put on one weight at a time.",
    "Put a support close under the pan, so that a part or a hook that gives way drops nothing far; secure the weights "
    "on the pan and the part in its clamp before the first one goes on.",
    "One person handles the weights and nobody else is within reach of the part while they hang.",
)


class SourceSettings(Settings):
    """The weights by the marks on them, where they hang, and the local gravity.

    Without `gravity` the standard value counts, with limits that hold every place at sea level or on a mountain
    (9.780 to 9.832 m/s²; Helmert's formula of normal gravity, from memory). A place's own value is much better known.
    """

    place: Annotated[str, Field(min_length=1, max_length=60)] = "the pan"
    weights: Annotated[
        dict[str, Annotated[Uncertain, uncertain("mass", above="0 kg")]], Field(min_length=1, max_length=MOST)
    ]
    gravity: Annotated[Uncertain, uncertain("acceleration", above="0 m/s²")] = parse_uncertain(
        "9.80665 m/s² ± 0.3 %", "acceleration"
    )

    @field_validator("weights")
    @classmethod
    def _marks_that_can_be_typed(cls, weights: dict[str, Uncertain]) -> dict[str, Uncertain]:
        for mark in weights:
            if not mark.strip() or len(mark) > 20 or mark != " ".join(mark.split()) or not mark.isprintable():
                raise WrittenError(f"{mark!r} is no mark of a weight", "mark each with a few letters or digits")
        if len({mark.casefold() for mark in weights}) < len(weights):
            raise WrittenError("two marks differ by capitals alone", "mark the weights so that nobody mistakes them")
        return weights

    def set(self) -> Weights:
        """Their arithmetic."""
        return Weights(self.weights, self.gravity)


class ManualSource(Driver, Loads, Reads):
    """Dead weights. Its input 1 reads the force of those that the person confirmed to be on the part.

    Between a call for a weight and its confirmation nobody knows the load, and it reads nan.
    """

    kind: ClassVar[str] = "manual source"
    settings_model: ClassVar[type[Settings]] = SourceSettings
    asks_a_person: ClassVar[bool] = True

    @classmethod
    def check_resource(cls, resource: str) -> None:
        """`by hand`."""
        check_by_hand(resource)

    @classmethod
    def most_readings(cls, settings: Settings) -> int | None:  # noqa: ARG003  the same for all
        """One: the figure of weights at rest does not scatter."""
        return 1

    @classmethod
    def unreadable(cls, settings: Settings, channel_input: int, kind: str) -> str:  # noqa: ARG003  the same for all
        """Anything but the force of the weights, which is input 1."""
        return "" if (channel_input, kind) == (1, "force") else "weights have input 1 alone, which gives force"

    @classmethod
    def unloadable(cls, settings: Settings, kind: str) -> str:  # noqa: ARG003  the same for all
        """Any load but force."""
        return "" if kind == "force" else f"weights make force, and the part's load is {kind}"

    @classmethod
    def stated_accuracy(cls, settings: Settings, channel_input: int) -> Accuracy | None:  # noqa: ARG003  one input
        """What masses and gravity leave uncertain."""
        return Accuracy.model_validate({"of reading": _of(settings).set().spread()})

    @classmethod
    def cannot_make(cls, settings: Settings, target: float) -> str:
        """Why no choice of the weights makes `target` (N); "" where one does."""
        weights = _of(settings).set()
        if isfinite(target) and weights.choose(target, frozenset()) is not None:
            return ""
        near = " or ".join(f"{load:.5g} N" for load in weights.nearest(target))
        return f"its weights cannot make {target:.5g} N; they make {near}: change the load or the weights"

    @classmethod
    def cautions(cls, settings: Settings) -> tuple[str, ...]:  # noqa: ARG003  the same for all
        """Of hanging weights; trade custom, no source."""
        return CAUTIONS

    def open(self) -> Identity:
        """Ask for the mark of the set. What hangs there is not known before it was said to be nothing."""
        self._on: frozenset[str] = frozenset()
        self._sure = False
        self._wanted = self._on
        self._said_empty = False
        return identify(self.connection.person, self.connection.name, "the set of weights")

    def close(self) -> None:
        """Nothing to let go of."""

    def errors(self) -> list[str]:
        """Weights have no error queue."""
        return []

    def read(self, inputs: Sequence[int], count: int, interval_s: float) -> FloatArray:  # noqa: ARG002  at rest
        """Force (N) of the weights on the part."""
        if list(inputs) != [1]:
            raise InstrumentError(self.connection.name, f"inputs={list(inputs)}: weights have input 1 alone")
        return np.full((count, 1), self._set.force_n(self._on) if self._sure else nan)

    def rise_to(self, target: float, rate_per_s: float) -> None:  # noqa: ARG002  at the person's own pace
        """Choose the weights; `settled` has them placed."""
        if why := self.cannot_make(self.settings, target):
            raise InstrumentError(self.connection.name, why)
        wanted = self._set.choose(target, self._on)
        assert wanted is not None, "see `cannot_make`"
        self._wanted = wanted

    def settled(self) -> bool:
        """Have each weight placed and confirmed by its mark; True when all are."""
        for put_on, mark in moves(self._on, self._wanted):
            self._sure = self._said_empty = False
            self._move(put_on, mark)
            self._on = self._on | {mark} if put_on else self._on - {mark}
            self._sure = True
        return True

    def isolate(self, isolated: bool) -> None:
        """Nothing lies between hanging weights and the part: they neither leak nor follow a source."""

    def go_safe(self) -> None:
        """Call for everything to be taken off; `is_safe` asks whether it was."""
        self._wanted, self._said_empty = frozenset(), False
        if self._on or not self._sure:
            self._sure = False
            self.connection.person.tell(
                self.connection.name,
                f"TAKE ALL WEIGHTS OFF {self._place.upper()} NOW, one by one; keep your feet clear.",
            )

    def is_safe(self) -> bool:
        """Ask whether nothing hangs there any more; once it was confirmed, it is not asked again."""
        if not self._said_empty:
            self._said_empty = self._ask(
                "empty", "", f"Is every weight off {self._place}? Type yes when it is.", SAFE_PATIENCE_S
            ).lower() in {"y", "yes"}
        if self._said_empty:
            self._on, self._sure = frozenset(), True
        return self._said_empty

    def _move(self, put_on: bool, mark: str) -> None:
        """One weight, until its own mark is typed."""
        does: Wants = "put on" if put_on else "take off"
        where = f"{'on' if put_on else 'off'} {self._place}"
        mass = _of(self.settings).weights[mark].text
        call = f"{does.capitalize()} weight {mark} ({mass}). Type its mark when it is {where} and all is at rest:"
        typed = self._ask(does, mark, call)
        while typed.casefold() != mark.casefold():
            wrong = (
                f"{typed!r} is not the mark of this weight; see that no other one was moved"
                if typed
                else "Nothing typed"
            )
            typed = self._ask(does, mark, f"{wrong}.\n{call}", amiss=wrong)

    def _ask(self, wants: Wants, mark: str, text: str, patience_s: float | None = None, amiss: str = "") -> str:
        question = Question(self.connection.name, wants, mark, text, patience_s=patience_s, amiss=amiss)
        answer = self.connection.person.ask(question)
        return " ".join(answer.split())

    @property
    def _place(self) -> str:
        return _of(self.settings).place

    @property
    def _set(self) -> Weights:
        return _of(self.settings).set()


def _of(settings: Settings) -> SourceSettings:
    assert isinstance(settings, SourceSettings)
    return settings
