"""Step `signature`: a hold point. Nothing goes on before a named person has signed a statement."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from rigproof.documents.rig import Rig
from rigproof.errors import UsageError
from rigproof.people import OfStep, Question, checked_name
from rigproof.uncertainty import Rule, Tolerance
from rigproof.verdict.record import Check, Finding

from . import base
from .asking import understood
from .checks import Subject
from .guard import missing
from .lists import PlainName, Text
from .record import StepRecord
from .tasks import Task
from .worked import exact_check

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig

SIGNATURE = "signature"  # kind of the entry
ANOTHER = "another person"
TYPE = "`yes` to sign, or `no:` and why not"


class Signature(base.Step):
    """A hold point: a named person signs a statement, with every deviation so far before their eyes.

    A refusal is a reject, with its reason. The name is as typed: it says who answered for the rig, and proves nothing
    about who sat at the keyboard.
    """

    kind: ClassVar[str] = "signature"
    asks_a_person: ClassVar[bool] = True
    admits: ClassVar[tuple[Finding, ...]] = ("accept", "undecided")

    of: PlainName
    """What is held here, such as `ready for bonding`."""
    statement: Text
    """What is signed, in a sentence without its full stop."""
    by: Literal["anyone", "another person"] = "anyone"
    """Who may sign: anyone, or only another person than those who did the work before it."""

    def tasks(self) -> Sequence[Task]:
        """The statement."""
        who = "By another person than who did the work" if self.by == ANOTHER else "By name"
        return (Task("signature", f"{who}: {self.statement}", "procedure"),)

    def remarks(self) -> Sequence[str]:
        """What is held."""
        return (f"Hold point: {self.of}.",)

    def reaches(self, rig: Rig) -> tuple[str, ...]:  # noqa: ARG002  a person's word reaches no channel
        """No channel."""
        return ()

    def rests_on(self, rig: Rig) -> tuple[str, ...]:  # noqa: ARG002  it reads none
        """No channel."""
        return ()

    def acquire(self, live: LiveRig) -> None:
        """A name, then the signature or a reason."""
        workers = list(dict.fromkeys(str(entry["person"]) for entry in live.works))
        told = [f"{e['of']}, {e['item']}: {text}" for e in live.works for text in (e["short"], e["keep"]) if text]
        head = f"HOLD POINT {self.of}\n{self.statement}.\nSigned for so far: {'; '.join(told) or 'no deviation'}.\n"
        name, refused = self._name(live, head, workers)
        if not refused:
            refused = self._sign(live, name)
        live.note(SIGNATURE, name=name, refused=refused, statement=self.statement, workers=workers)

    def _name(self, live: LiveRig, head: str, workers: Sequence[str]) -> tuple[str, str]:
        """Who signs, and why nobody does ("" where somebody does)."""
        other = self.by == ANOTHER
        if other:
            head += f"Another person than {', '.join(workers) or live.person} must sign.\n"
        prompt = "Who signs? First and last name; or `no:` and why nobody does."
        sound = f"another person than {live.person}" if other else live.person
        text = head + prompt
        while True:
            typed = self._ask(live, "name", text, sound, None if other else live.person)
            reply = understood(typed, "no")
            if reply is not None and reply[0] == "no":
                return live.person, reply[1]
            try:
                name = checked_name(typed)
            except UsageError as error:
                text = f"{error}.\n{prompt}"
                continue
            if not (other and _among(name, workers or [live.person])):
                return name, ""
            text = f"{name} did the work, and this asks for another person.\n{prompt}"

    def _sign(self, live: LiveRig, name: str) -> str:
        """Why it is not signed; "" where it is."""
        text = f"{name} signs: {self.statement}. Type {TYPE}."
        while True:
            reply = understood(self._ask(live, "sign", text, "yes"), "no")
            if reply is not None:
                return reply[1]
            text = f"That is no answer here. Type {TYPE}."

    def _ask(self, live: LiveRig, wants: OfStep, text: str, sound: str, otherwise: str | None = None) -> str:
        return live.ask(Question(self.of, wants, "", text, otherwise, sound=sound))

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:  # noqa: ARG002  no channel is read
        """Signed, and by somebody who may."""
        about = Subject("signed", self.of, "number")
        entry = _last(record)
        if entry is None:
            return (missing(record, about, "nobody was asked"),)
        note = _why_not(entry, self.by == ANOTHER)
        signed = Tolerance(1, None)
        return (exact_check(record, about, 0 if note else 1, signed, rule, "procedure", note or entry["name"]),)

    def signed(self, record: StepRecord) -> Sequence[str]:
        """Of what, who, when, and the statement."""
        entry = _last(record)
        if entry is None or _why_not(entry, self.by == ANOTHER):
            return ()
        return (f"{self.of}: {entry['name']}, {entry['utc'][:19].replace('T', ' ')} UTC: {entry['statement']}",)


def _last(record: StepRecord) -> dict[str, Any] | None:
    return next(reversed(record.events(SIGNATURE)), None)


def _why_not(entry: dict[str, Any], other: bool) -> str:
    if entry["refused"]:
        return f"{entry['name']} refused: {entry['refused']}"
    return (
        f"{entry['name']} did the work and signed for it" if other and _among(entry["name"], entry["workers"]) else ""
    )


def _among(name: str, workers: Sequence[str]) -> bool:
    """Whether a name is one of those, however it is capitalised and spaced."""
    return " ".join(name.split()).casefold() in {" ".join(worker.split()).casefold() for worker in workers}
