"""A verdict and its checks for people: plain lines, readable in 80 columns, without colour and in a pipe."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from rigproof.quantities import show
from rigproof.verdict import extent, words
from rigproof.verdict.identified import of_verdict
from rigproof.verdict.record import Check, StepSummary, Verdict

COLUMNS, WHAT = 80, 33  # of a line, of what was checked
MOST_REASONS = 8  # on the screen
IN_BRACKETS = "in brackets the standard uncertainty, in the last digits; U the expanded one"

SIMULATED = "SIMULATED RIG: no hardware was touched, nothing here says anything about a real part."

REPLAYED = "REPLAYED RECORD: nothing was measured now, and a part that has changed since is not what it shows."


def check_lines(checks: Sequence[Check]) -> list[str]:
    """How many checks accept, and every one that does not."""
    against = [check for check in checks if check.finding != "accept"]
    lines = []
    for check in against:
        value = f"measured {words.concise(check)}" if check.measured is not None else words.value(check)
        expected = words.expected(check)
        limits = f", expected {expected}" if expected else f", tolerance {words.interval(check)}"
        limits = "" if words.not_made(check) else limits
        lines += [f"  {check.finding.upper():9}  {words.title(check)}:", f"             {value}{limits}"]
    accepted = len(checks) - len(against)
    return [*lines, f"  {accepted} of {len(checks)} checks accept" if checks else "  nothing was checked"]


def print_verdict(verdict: Verdict, folder: Path) -> None:
    """As `verdict_lines`."""
    for line in verdict_lines(verdict, folder):
        click.echo(line)


def verdict_lines(verdict: Verdict, folder: Path, notes: Sequence[str] = (), seen_safe: bool = False) -> list[str]:
    """The table of checks, what was not shown, `notes` on what to do, and the verdict last.

    Who has just `seen` that the sources are `safe` is not told again.
    """
    rules = dict.fromkeys(check.rule for check in verdict.checks if check.rule and check.measured is not None)
    return [
        "",
        *(table(verdict.checks, verdict.steps).split("\n") if verdict.checks else ["no check was made"]),
        *([f"rules: {'; '.join(rules)}"] if rules else []),
        *_listed("shown by agreement, so that a smaller error may pass:", extent.by_agreement(verdict)),
        *_listed("not shown by this run:", verdict.not_shown),
        "",
        *(f"  {text}" for text in why_lines(verdict)),
        *(f"  {text}" for text in _of_the_run(verdict, seen_safe)),
        f"  record: {folder}",
        *(f"  {text}" for text in (*marks(verdict.simulated, verdict.replayed), *notes)),
        "",
        verdict_line(verdict),
    ]


def _listed(heading: str, texts: Sequence[str]) -> Iterator[str]:
    """A heading and what stands under it; nothing where that is nothing."""
    if texts:
        yield from ("", heading)
    for text in texts:
        yield from textwrap.wrap(f"  - {text}", COLUMNS, subsequent_indent="    ", break_on_hyphens=False)


def why_lines(verdict: Verdict) -> list[str]:
    """The reasons, each with what is looked at first; of many the first."""
    more, hints, told = len(verdict.why) - MOST_REASONS, words.hints(verdict), set[str]()
    lines = []
    for text in verdict.why[:MOST_REASONS]:
        lines += _wrapped(text)
        hint = hints.get(text, "")
        lines += [f"  {line}" for line in _wrapped(hint) if hint not in told]
        told.add(hint)
    return [*lines, *([f"… and {more} more in verdict.json"] if more > 0 else [])]


def _wrapped(text: str) -> list[str]:
    """A long text in lines, the later ones set in; a unit stays beside its number."""
    whole = re.sub(r"(?<=[\d)±]) (?=[^\s(]{1,8}([,;]|$| \())|(?<=±) ", "\N{NO-BREAK SPACE}", text)
    wrap = textwrap.TextWrapper(COLUMNS - 4, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in wrap.wrap(whole)]


def _of_the_run(verdict: Verdict, seen_safe: bool) -> Iterator[str]:
    """What is to be known of part, steps, instruments, sources and people."""
    for what, text in of_verdict(verdict).lines():
        yield from _wrapped(f"{what}: {text}")
    if out := [f"{step.step} {step.kind}" for step in verdict.steps if step.taken == "not taken"]:
        yield f"{len(out)} of {len(verdict.steps)} steps not taken: {', '.join(out)}"
    if verdict.no_calibration_stated:
        yield f"no calibration stated: {', '.join(verdict.no_calibration_stated)}"
    yield from words.resumptions(verdict)
    yield from verdict.clock
    for retried in verdict.retries:
        yield f"{words.retries(retried)}: failed readings taken again, see the journal"
    for end in (end for end in verdict.safe_end if not (seen_safe and end.confirmed)):
        yield f"{end.source} {'safe' if end.confirmed else 'NOT CONFIRMED SAFE'}: {end.text}"
    yield from _work(verdict)


def verdict_line(verdict: Verdict) -> str:
    """`verdict: accept (simulated)`."""
    marked = ", ".join(word for word in ("simulated", "replayed") if getattr(verdict, word))
    return f"verdict: {verdict.verdict}{f' ({marked})' if marked else ''}"


def _work(verdict: Verdict) -> list[str]:
    """What people did, what was not as asked, what they signed, and who they were."""
    done = [words.work(of, lines) for of, lines in words.works(verdict.installation)]
    against = [f"DEVIATION {text}" for text in words.deviations(verdict.installation)]
    signed = [f"signed: {text}" for text in verdict.signatures]
    return [*done, *against, *signed, *(f"worked by hand: {person.name}, {person.how}" for person in verdict.people)]


def marks(simulated: bool, replayed: bool) -> list[str]:
    """What must stand on every output of a run that was no live one."""
    return [text for text, is_so in ((SIMULATED, simulated), (REPLAYED, replayed)) if is_so]


def table(checks: Sequence[Check], steps: Sequence[StepSummary] = ()) -> str:
    """One row per check under its step; values with their standard uncertainty in brackets (GUM 7.2.2)."""
    remarks = {step.step: step.why if step.taken == "whole" else step.taken for step in steps}
    rows = [("", "check", "measured", "limits, or ± U")]
    for check in checks:
        finding = check.finding if check.finding == "accept" else check.finding.upper()
        rows.append((finding, _what(check), words.concise(check), words.expected(check) or words.interval(check)))
    widths = [max(len(row[i]) for row in rows) for i in range(3)]
    widths[1] = min(widths[1], WHAT)
    lines, step = [_row(rows[0], widths)], 0
    for check, row in zip(checks, rows[1:], strict=True):
        if check.step != step:
            step = check.step
            lines.append(": ".join(filter(None, (f"{step} {check.step_kind}", remarks.get(step, "")))))
        lines.append(_row(row, widths))
    return "\n".join([*lines, *([IN_BRACKETS] if any("(" in row[2] for row in rows) else [])])


def _what(check: Check) -> str:
    """What was checked, of what, and where; a shunt reading with the strain it stands for."""
    where = check.at.partition(",")[0]
    if check.equivalent_strain is not None:
        where = show(check.equivalent_strain, "strain", 4)
    return ", ".join(filter(None, (check.name, check.subject, where)))


def _row(cells: Sequence[str], widths: Sequence[int]) -> str:
    """One line; where it would be too long the numbers stand below the name, in their columns if they can."""
    finding, what, measured, limits = cells
    head = f"{finding.ljust(widths[0])} {what}"
    tail = f"{measured.ljust(widths[2])} {limits}".rstrip()
    column = widths[0] + widths[1] + 2
    if len(what) <= widths[1] and column + len(tail) <= COLUMNS:
        return f"{head.ljust(column)}{tail}".rstrip()
    return f"{head[:COLUMNS]}\n{' ' * max(0, min(column, COLUMNS - len(tail)))}{tail}"
