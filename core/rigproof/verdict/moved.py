"""What moved in one check, in a line: as much as its uncertainty supports."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, sqrt

from rigproof.quantities import kind_of, show

from . import words
from .difference import DIGITS, spoken
from .record import Check

SETTLED = ("rule", "method", "guards")  # of a check, that do not go with its reading
READ = ("at", "note", "hint", "improve", "would_be")  # that do
A_TENTH = 0.1  # of u: so well is it known from 50 readings (GUM, table E.1), and no better than that to a reader
NAMED = 3  # fields that a line names without their numbers; more are counted

Words = Callable[[Check], str]


@dataclass(frozen=True)
class Moved:
    """A check that differs. `told`: the fields of `differences` that `said` shows; `margin`: its change, in 2 u."""

    name: str
    finding: str  # "" where it did not change
    said: tuple[str, ...]
    told: frozenset[str]
    margin: float | None


class _Line:
    """The parts of a line as they come up; `differ` are the fields that are not the same.

    `every`: each of them is to be told; `finding`: what it rests on is told, too.
    """

    def __init__(self, old: Check, new: Check, differ: set[str], every: bool) -> None:
        self.old, self.new, self.differ, self.every = old, new, differ, every
        self.finding = "finding" in differ
        self.said: list[str] = []
        self.told = differ & {"finding"}
        self.reach = 2.0 * max(old.u, new.u)

    def beyond(self, *fields: str) -> bool:
        """Whether one of these differs by more than 2 u of the reading, so that two readings show it."""
        both = ((getattr(self.old, name), getattr(self.new, name)) for name in fields if spoken(name) in self.differ)
        return any(self.every or self.far(*each) for each in both)

    def far(self, was: float | None, now: float | None) -> bool:
        """Whether two numbers are apart by more than 2 u of the reading."""
        return was != now if was is None or now is None else abs(now - was) > self.reach

    def tell(self, name: str, short: Words, full: Words, *fields: str) -> None:
        """`measured 0.327(60) -> 0.275(60) %`; where the digits of u hide a change that is to be told, all digits."""
        was, now = short(self.old) or "none", short(self.new) or "none"
        if was == now and self.every and self.differ & set(fields):
            was, now = full(self.old), full(self.new)
        if was == now:
            self.said.append(f"{name} {now}")
            return
        unit = now.rpartition(" ")[2]
        if not name.endswith(":") and not any(map(str.isdigit, unit)):
            was = was.removesuffix(f" {unit}")
        self.said.append(f"{name} {was} -> {now}")
        self.told |= self.differ & set(fields)


def moved(name: str, old: Check, new: Check, differ: set[str], same_readings: bool) -> Moved:
    """The line of a check of which `differ` differ, and what of it is told.

    Where the reading is the same it is the tool, a document or a limit that changed, and each change is of interest.
    """
    line = _Line(old, new, differ, same_readings or "measured" not in differ)
    _reading(line)
    if not (words.not_made(old) or words.not_made(new)):  # else there is nothing to hold beside the other
        _around(line)
        _limits(line)
        _texts(line, *SETTLED)
    _texts(line, *(READ if line.every or line.finding else ()))
    change = _margin_first(line)
    left = sorted(differ - line.told)
    if same_readings and left:
        line.said.append(f"also changed: {', '.join(left) if len(left) <= NAMED else f'{len(left)} more'}")
    return Moved(
        name, f"{old.finding} -> {new.finding}" if line.finding else "", tuple(line.said), frozenset(line.told), change
    )


def _reading(line: _Line) -> None:
    if line.finding or line.beyond("measured"):
        line.tell("measured", words.concise, _number("measured"), "measured", "u")


def _around(line: _Line) -> None:
    """What the reading is held against, and how well that is known."""
    if line.beyond("expected"):
        line.tell("expected", words.expected, _number("expected"), "expected", "u expected", "U")
    decides = next(name for name in ("u_difference", "u_limit", "u") if getattr(line.new, name) is not None)
    if spoken(decides) in line.differ - line.told and (line.every or _u_moved(line.old, line.new)):
        line.tell("u", _u(short=True), _u(short=False), spoken(decides))


def _limits(line: _Line) -> None:
    limits = {"tolerance lower", "tolerance upper"}
    was, now = line.old.tolerance, line.new.tolerance
    set_by_someone = not (was.computed and now.computed)
    far = line.every or line.far(was.lower, now.lower) or line.far(was.upper, now.upper)
    if limits & line.differ and (set_by_someone or far):
        line.tell("tolerance", words.interval, _interval("tolerance"), *limits)
    if line.finding or (line.beyond("acceptance_lower", "acceptance_upper") and not limits & line.told):
        line.tell("accepts", _accepts, _interval("acceptance"), "acceptance lower", "acceptance upper")
    if "tolerance origin" in line.differ:
        line.tell("set by:", _origin, _origin, "tolerance origin")


def _texts(line: _Line, *names: str) -> None:
    for name in names:
        if spoken(name) in line.differ:
            line.tell(f"{spoken(name)}:", text := _text(name), text, spoken(name))


def _margin_first(line: _Line) -> float | None:
    """Tell the margin before the rest where it moved; its change in 2 u, None where it is not told."""
    was, now = margin(line.old), margin(line.new)
    if was is None or now is None or line.old.kind != line.new.kind:
        return None
    change = abs(now - was)
    if not (change > line.reach or (change > 1e-9 * abs(was) and (line.finding or (line.every and line.said)))):
        return None
    line.tell("margin", _margin, _margin)
    line.said.insert(0, line.said.pop())
    return change / line.reach if line.reach else inf


def margin(check: Check) -> float | None:
    """From the reading to the nearest acceptance limit, below 0 beyond it; None without a reading or such a limit."""
    if check.measured is None:
        return None
    rooms = [check.measured - check.acceptance_lower] if check.acceptance_lower is not None else []
    rooms += [check.acceptance_upper - check.measured] if check.acceptance_upper is not None else []
    return min(rooms, default=None)


def _u_moved(old: Check, new: Check) -> bool:
    """Whether u moved by more than it is known to: u of few readings is itself uncertain (GUM, E.4.3), here twice."""
    known = max(A_TENTH, *(sqrt(2.0 / check.dof) if check.dof else 0.0 for check in (old, new)))
    return abs(new.u_decides - old.u_decides) > known * max(new.u_decides, old.u_decides)


def _number(field: str) -> Words:
    def text(check: Check) -> str:
        value = getattr(check, field)
        return "none" if value is None else show(value, check.kind, DIGITS, words.unit_of(check))

    return text


def _width(value: float, check: Check, u: float) -> str:
    """A difference to two digits of `u`; 0: to nine."""
    kind, unit = kind_of(check.kind).difference, words.unit_of_difference(check.kind, words.unit_of(check))
    return words.rounded(value, u, kind, unit) if u else show(value, kind, DIGITS, unit)


def _u(short: bool) -> Words:
    return lambda check: _width(check.u_decides, check, check.u_decides if short else 0.0)


def _margin(check: Check) -> str:
    return _width(margin(check) or 0.0, check, check.u_decides)


def _accepts(check: Check) -> str:
    return _between(check, "acceptance", lambda limit, unit: words.rounded(limit, check.u_decides, check.kind, unit))


def _interval(of: str) -> Words:
    return lambda check: _between(check, of, lambda limit, unit: show(limit, check.kind, DIGITS, unit))


def _between(check: Check, of: str, text: Callable[[float, str], str]) -> str:
    lower, upper = check.acceptance_lower, check.acceptance_upper
    if of == "tolerance":
        lower, upper = check.tolerance.lower, check.tolerance.upper
    elif lower is None and upper is None:
        return "nothing"
    unit = words.unit_of(check)
    return words.between(lower, upper, unit, lambda limit: text(limit, unit))


def _origin(check: Check) -> str:
    return check.tolerance.origin


def _text(field: str) -> Words:
    return lambda check: str(getattr(check, field) or "nothing")
