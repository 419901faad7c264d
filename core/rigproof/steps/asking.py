"""Putting a task to a person: begin, done or refused, how long it took, what was measured; all into the record."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigproof.errors import QuantityError
from rigproof.people import OfStep, Question
from rigproof.quantities import parse, show

from .tasks import WORK, Measured, Task

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig

DONE = "`yes` when it is done and so, or `no:` and why not"
_BARE = re.compile(r"(no|short|keep)\s*(:\s*\S?)?", re.IGNORECASE)
_REASONED = re.compile(r"(no|short|keep)\s*:\s*(\S.*\S)", re.IGNORECASE | re.DOTALL)


def understood(typed: str, *words: str) -> tuple[str, str] | None:
    """A reply as (word, reason): `yes`, or one of `words` with a colon and a reason; None for anything else."""
    text = typed.strip()
    if text.lower() in {"y", "yes"}:
        return "yes", ""
    found = _REASONED.fullmatch(text)
    return (found[1].lower(), found[2]) if found and found[1].lower() in words else None


def without_reason(typed: str, *words: str) -> str:
    """What is wrong with one of `words` that has no reason behind it; "" for anything else."""
    found = _BARE.fullmatch(typed.strip())
    if found is None or found[1].lower() not in words:
        return ""
    return f"{typed.strip()!r} gives no reason; write it behind `{found[1].lower()}:`, a word at least"


@dataclass(frozen=True)
class Talk:
    """One task put to the person who does it. `concessions`: what falls short may be signed for with a reason."""

    live: LiveRig
    of: str  # the work it belongs to
    task: Task
    place: str  # "3 of 7"
    concessions: bool

    def take(self) -> bool:
        """Ask until it is done or refused; true where it is done."""
        task, live = self.task, self.live
        told = f"{self.of}, {self.place}: {task.name}\n{task.told()}\n"
        reason, prompt = "", f"{told}Type {DONE}."
        if task.at_least is not None:
            started = self._ask("begin", f"{told}Enter starts the time.", otherwise="", sound="")
            reason = (understood(started, "no") or ("", ""))[1]
            prompt = f"{task.name}: the time runs, {task.at_least.text} at least. When that is over, type {DONE}."
        begun, short = live.clock.now(), ""
        if not reason:
            reason, short = self._done(prompt, begun)
        took, value, keep = self._since(begun), None, ""
        if not reason and task.measured is not None:
            reason, value, keep = self._value(task.measured)
        live.note(
            WORK,
            of=self.of,
            item=task.name,
            origin=task.origin,
            done=not reason,
            took_s=took,
            measured=task.measured.of if task.measured else "",
            value=value,
            refused=reason,
            short=short,
            keep=keep,
        )
        return not reason

    def _done(self, text: str, begun: float) -> tuple[str, str]:
        """Why it is refused, and why it took less than it must; "" where neither is so."""
        least = self.task.at_least
        words: tuple[str, ...] = ("no",)
        while True:
            needs = least.value if least is not None else 0.0
            left = max(0.0, needs - self._since(begun))
            reply = understood(self._ask("done", text, sound="yes", takes_s=left), *words)
            took = self._since(begun)
            if reply is None:
                text = f"{self.task.name}: that is no answer here. Type {self._choices(words)}."
            elif reply[0] == "no":
                return reply[1], ""
            elif took >= needs:
                return "", ""
            elif reply[0] == "short":
                return "", reply[1]
            else:
                words = ("no", "short") if self.concessions else ("no",)
                text = (
                    f"{self.task.name}: {took:.0f} s have gone by, and it takes {least} at least. Go on, and type "
                    f"{self._choices(words)}."
                )

    def _since(self, begun: float) -> float:
        """Seconds, to the millisecond, so that a minute is never a hair less than one."""
        return round(self.live.clock.now() - begun, 3)

    def _choices(self, words: Sequence[str]) -> str:
        return f"{DONE}; or `short:` and why it ends before its time" if "short" in words else DONE

    def _value(self, measured: Measured) -> tuple[str, float | None, str]:
        """Why it is refused, the value, and why it is kept where it lies outside its range."""
        kind = measured.lowest.kind
        prompt = f"{measured.of}, with its unit ({measured.range} is right):"
        middle = show((measured.lowest.value + measured.highest.value) / 2, kind)
        text, value, amiss = prompt, None, ""
        wants: OfStep = "value"
        words: tuple[str, ...] = ("no",)
        while True:
            typed = self._ask(wants, text, sound=middle, amiss=amiss)
            if amiss := without_reason(typed, *words):
                continue
            reply = understood(typed, *words)
            if reply is not None and reply[0] != "yes":
                return (reply[1], value, "") if reply[0] == "no" else ("", value, reply[1])
            try:
                value = parse(typed, kind).value
            except QuantityError as error:
                wants, text, amiss = "value", prompt, str(error)
                continue
            if measured.holds(value):
                return "", value, ""
            wants, words = "keep", ("no", "keep") if self.concessions else ("no",)
            keep = "`keep:` and why it stays so, or " if self.concessions else ""
            between = f"between {measured.lowest.text} and {measured.highest.text} ({measured.origin})"
            amiss = f"{measured.of}: {typed.strip()} is not {between}"
            text = f"{amiss}. Mend it and type the new value; or type {keep}`no:` and why it is not done."

    def _ask(
        self,
        wants: OfStep,
        text: str,
        sound: str,
        otherwise: str | None = None,
        takes_s: float = 0.0,
        amiss: str = "",
    ) -> str:
        whole = text if amiss in text else f"{amiss}.\n{text}"
        name = self.task.name
        return self.live.ask(Question(self.of, wants, name, whole, otherwise, None, sound, amiss, takes_s))
