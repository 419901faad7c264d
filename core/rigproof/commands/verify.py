"""`rigproof verify`: the journal holds together, and the verdict beside it was made from it."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import click

from rigproof.errors import ExitCode
from rigproof.journal import read_journal, verify
from rigproof.verdict.record import from_bytes

from .arguments import json_option

_JOURNAL, _VERDICT = "journal.jsonl", "verdict.json"


@click.command("verify")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@json_option
def command(folder: Path, as_json: bool) -> int:
    """Verify the record of a run in DIR: the journal's chain, and the hashes the verdict names.

    Exit code 0 when all holds, 1 when it does not.
    """
    checked, problems = verify_folder(folder)
    if as_json:
        said = {"holds": not problems, "checked": checked, "problems": problems}
        click.echo(json.dumps(said, indent=2, ensure_ascii=False))
    else:
        for line in (*checked, *(f"DOES NOT HOLD: {problem}" for problem in problems)):
            click.echo(line)
    return ExitCode.REJECT if problems else ExitCode.ACCEPT


def verify_folder(folder: Path) -> tuple[list[str], list[str]]:
    """What was checked and what is wrong, one line each. Raises `JournalError` when there is no journal to read."""
    problems = [f"{_JOURNAL}: {problem}" for problem in verify(folder / _JOURNAL)]
    if problems:
        return [], problems  # hashes of a journal that does not hold would only say so again
    journal = read_journal(folder / _JOURNAL)
    checked = [f"{_JOURNAL}: {len(journal.entries)} lines hold, SHA-256 {journal.sha256}"]
    if not (folder / _VERDICT).exists():
        return [*checked, f"{_VERDICT}: there is none; `rigproof judge` makes it from the journal"], []
    named = _named_hashes(folder / _VERDICT)
    if isinstance(named, str):
        return checked, [named]
    found = {"journal": journal.sha256}
    head = journal.entries[0].data if journal.entries else {}
    for document in ("rig", "procedure"):
        if isinstance(written := head.get(document), dict):
            found[document] = hashlib.sha256(str(written.get("text")).encode("utf-8")).hexdigest()
    for what, sha256 in named.items():
        if sha256 == found.get(what):
            checked.append(f"{_VERDICT}: names this {what}")
        else:
            problems.append(f"{_VERDICT}: {what} SHA-256 {sha256} is named, the record has {found.get(what, 'none')}")
    return checked, problems


def _named_hashes(path: Path) -> dict[str, str] | str:
    """The SHA-256 values a verdict names, by what they are of; a text when it is no verdict."""
    try:
        verdict = from_bytes(path.read_bytes())
    except ValueError as error:
        return f"{_VERDICT}: is no verdict ({str(error).splitlines()[0]})"
    return {name: getattr(verdict, name).sha256 for name in ("journal", "rig", "procedure")}
