"""`rigproof report`: every report writer that is installed, beside the verdict.

A record is proved before it is shown: no report is made of a journal whose chain is broken, nor of a verdict that is
not what the journal gives, because a page about it would look as sound as any other.
"""

from __future__ import annotations

from pathlib import Path

import click

from rigproof.errors import UsageError
from rigproof.journal import read_journal
from rigproof.plugins import Registry, load_registry
from rigproof.verdict.judging import judge
from rigproof.verdict.record import Verdict, to_bytes

from .results import read_verdict


@click.command("report")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def command(folder: Path) -> None:
    """Write the reports of the run in DIR; refused for a record that was changed."""
    registry = load_registry()
    verdict = read_verdict(folder)
    _prove(verdict, folder, registry)
    for writer in registry.reports.values():
        try:
            writer.write(verdict, folder)
        except OSError as error:
            raise UsageError(f"{folder / writer.filename}: cannot be written ({error.strerror})") from None
        click.echo(f"{folder / writer.filename}")


def _prove(verdict: Verdict, folder: Path, registry: Registry) -> None:
    """The journal holds and gives this verdict, whatever plugins it was judged with; else `UsageError`."""
    again = judge(read_journal(folder / "journal.jsonl"), registry)
    if to_bytes(again.model_copy(update={"judged_with": verdict.judged_with})) == to_bytes(verdict):
        return
    changed = [name for name in type(again).model_fields if getattr(verdict, name) != getattr(again, name)]
    other = "it was changed"
    if "judged_with" in changed:
        changed.remove("judged_with")
        other = "it was changed, or the plugins it was judged with say otherwise than those installed here"
    raise UsageError(
        f"{folder / 'verdict.json'}: is not what the journal gives, it differs in {', '.join(changed)}: {other}; "
        "no report is made of it, and one that lies there is of no account: make the verdict again with "
        "`rigproof judge`"
    )
