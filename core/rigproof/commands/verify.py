"""`rigproof verify`: the journal holds together, the verdict beside it is what it gives, and signatures are theirs.

Without a signature it finds accident and careless change: who can rewrite both files can make them fit.
"""

from __future__ import annotations

import json
from pathlib import Path

import click

from rigproof.errors import ExitCode
from rigproof.journal import read_journal, verify
from rigproof.plugins import Registry, load_registry
from rigproof.signing import check_signatures
from rigproof.verdict.judging import judge
from rigproof.verdict.record import Verdict, from_bytes, to_bytes

from .arguments import json_option

_JOURNAL, _VERDICT = "journal.jsonl", "verdict.json"


@click.command("verify")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--public-key", type=click.Path(path_type=Path), help="PEM file: a signature by this key must be there and hold."
)
@json_option
def command(folder: Path, public_key: Path | None, as_json: bool) -> int:
    """Verify the record of a run in DIR: the journal's chain, the verdict by judging again, signatures beside them.

    Exit code 0 when all holds, 3 when it does not.
    """
    checked, problems = verify_folder(folder)
    signed, wrong = check_signatures(folder, public_key)
    checked, problems = [*checked, *signed], [*problems, *wrong]
    if as_json:
        said = {"holds": not problems, "checked": checked, "problems": problems}
        click.echo(json.dumps(said, indent=2, ensure_ascii=False))
    else:
        for line in (*checked, *(f"DOES NOT HOLD: {problem}" for problem in problems)):
            click.echo(line)
    return ExitCode.VOID if problems else ExitCode.ACCEPT


def verify_folder(folder: Path, registry: Registry | None = None) -> tuple[list[str], list[str]]:
    """What was checked and what is wrong, one line each. Raises `JournalError` when there is no journal to read."""
    problems = [f"{_JOURNAL}: {problem}" for problem in verify(folder / _JOURNAL)]
    if problems:
        return [], problems  # what a journal that does not hold would be judged to is of no account
    journal = read_journal(folder / _JOURNAL)
    if not journal.entries or journal.entries[0].kind != "run":
        return [], [f"{_JOURNAL}: holds no run"]
    checked = [f"{_JOURNAL}: {len(journal.entries)} lines hold, SHA-256 {journal.sha256}"]
    if journal.entries[-1].kind != "end":
        problems.append(f"{_JOURNAL}: has no end: the run was killed")
    try:
        written = (folder / _VERDICT).read_bytes()
    except OSError as error:
        return checked, [*problems, f"{_VERDICT}: cannot be read ({error.strerror}); `rigproof judge` makes it again"]
    again = judge(journal, registry or load_registry())
    if to_bytes(again) == written:
        checked.append(f"{_VERDICT}: is what the journal gives, byte for byte")
    else:
        problems.append(f"{_VERDICT}: {_difference(written, again)}")
    return checked, problems


def _difference(written: bytes, again: Verdict) -> str:
    """Why a verdict is not the one that its journal gives."""
    try:
        verdict = from_bytes(written)
    except ValueError as error:
        return f"is no verdict ({str(error).splitlines()[0]})"
    if verdict.judged_with != again.judged_with:
        return "was judged with other plugins than are installed here, so it cannot be compared"
    changed = [name for name in type(again).model_fields if getattr(verdict, name) != getattr(again, name)]
    return f"is not what the journal gives; it differs in {', '.join(changed) or 'its bytes'}"
