"""Answers from a file, in the order in which they will be asked for: `answers/1`.

    rigproof: answers/1
    person: A. Example
    # a line that begins with # is a remark
    indicator value 1: 12 µε
    weights put on A: A

Before the colon stands what is asked (instrument, what, which), after it what a person would type. Where a person may
just press Enter the line can be left out. A line that does not fit the question ends the run: nothing is guessed.
`after: 65 s` stands for the time that a person takes for what the next line answers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from rigproof.clock import Clock, WallClock
from rigproof.errors import InstrumentError, QuantityError, UsageError
from rigproof.people import Question, checked_name
from rigproof.quantities import parse

HEADER = "rigproof: answers/1"
AFTER = "after"  # what a line begins with that lets time pass
LOOK_EVERY_S = 1.0
LARGEST = 1_000_000  # bytes


class Scripted:
    """A `rigproof.people.Answers`; raises `UsageError` for a file that is none, with the line."""

    def __init__(self, file: Path, screen: Callable[[str], None], clock: Clock | None = None) -> None:
        self._file = file
        self.clock = clock or WallClock()  # by which `after` lets time pass
        self._screen = screen
        self._lines = _read(file)
        if not self._lines or self._lines[0][1:] != ("rigproof", "answers/1"):
            raise UsageError(f"--answers {file}:1: is no file of answers; begin it with `{HEADER}`")
        if len(self._lines) < 2 or self._lines[1][1] != "person":
            raise UsageError(f"--answers {file}:2: says nobody's name; write `person: NAME` under the first line")
        number, _, written = self._lines[1]
        try:
            self.name = checked_name(written)
        except UsageError as error:
            raise UsageError(f"--answers {file}:{number}: {error}") from None
        self._next = 2
        self._answered: dict[str, int] = {}  # by label: the line that answered it last
        self._keeps: dict[str, str] = {}  # by label: the question that repeats its answer back
        self._last = ""  # label that was answered last
        self.how = f"file {file.name}"

    def answer(self, question: Question, check: Callable[[], None]) -> str:
        """The next line, if it is the one that is asked for."""
        check()
        if question.wants == "keep":
            self._keeps[self._last] = question.label
        told = next((i for i in range(self._next, len(self._lines)) if self._lines[i][1] != AFTER), len(self._lines))
        number, label, answer = self._lines[told] if told < len(self._lines) else (0, "", "")
        if label != question.label:
            if question.otherwise is not None:
                return question.otherwise
            said = f"line {number} answers {label!r}" if label else "the file is at its end"
            if label in self._answered:
                said += f", as line {self._answered[label]} did ({self._corrected(label, answer)})"
            if question.amiss and self._last:
                raise InstrumentError(question.instrument, self._not_taken(question))
            raise InstrumentError(
                question.instrument,
                f"{self._file}: {said}, and {question.label!r} is asked ({' '.join(question.text.split())}); "
                f"write `{question.label}: …` there",
            )
        for _, _, time in self._lines[self._next : told]:
            self._let_pass(parse(time, "time").value, check)
        self._next, self._last = told + 1, label
        self._answered[label] = number
        self._screen(f"    {label}: {answer}")
        return answer

    def _not_taken(self, question: Question) -> str:
        """Why the last answer did not do, where no other one follows it."""
        number = self._answered[self._last]
        rest = " ".join(question.text.replace(question.amiss, "", 1).split()).lstrip(". ")
        how = f" ({rest})" if question.wants == "keep" else ""
        said = f"{self._file}:{number}: {question.amiss}; correct the line"
        return f"{said}, or write `{question.label}: …` under it{how}"

    def unasked(self) -> Sequence[str]:
        """A sentence for each line that answered nothing so far, with its place and what to do about it."""
        return [self._unasked(*line) for line in self._lines[self._next :]]

    def _unasked(self, number: int, label: str, answer: str) -> str:
        place = f"{self._file.name}:{number}: `{label}: {answer}`"
        if label == AFTER:
            return f"{place} let no time pass: no answer that counts comes after it. Delete the line."
        said = f"{place} does not count: nobody asked for it"
        if label not in self._answered:
            return f"{said}. Delete the line, or correct what stands before its colon."
        return f"{said} after line {self._answered[label]}. Delete the line; {self._corrected(label, answer)}."

    def _corrected(self, label: str, answer: str) -> str:
        """How a second line for a question is to be written."""
        if label not in self._keeps:
            return f"correct line {self._answered[label]}"
        return f"a correction of line {self._answered[label]} stands under it as `{self._keeps[label]}: {answer}`"

    def _let_pass(self, seconds: float, check: Callable[[], None]) -> None:
        end = self.clock.now() + seconds
        while (left := end - self.clock.now()) > 1e-9:
            check()
            self.clock.wait(min(LOOK_EVERY_S, left))

    def tell(self, text: str) -> None:
        """A notice for whoever reads along."""
        self._screen(f"    {text}")


def _read(file: Path) -> list[tuple[int, str, str]]:
    """Line number, label and answer of every line that says something."""
    try:
        data = file.read_bytes()
    except OSError as error:
        raise UsageError(f"--answers {file}: cannot be read ({error.strerror}); name a file of answers") from None
    if len(data) > LARGEST:
        raise UsageError(f"--answers {file}: has {len(data)} bytes; at most {LARGEST} are read")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        raise UsageError(f"--answers {file}: is no text in UTF-8; save it as UTF-8") from None
    found = []
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        label, colon, answer = line.partition(":")
        if not colon:
            raise UsageError(
                f"--answers {file}:{number}: {line.strip()!r:.60} has no colon; write `what is asked: answer`"
            )
        found.append((number, " ".join(label.split()), answer.strip()))
        if found[-1][1] == AFTER:
            try:
                parse(answer, "time")
            except QuantityError as error:
                raise UsageError(f"--answers {file}:{number}: {error}") from None
    return found
