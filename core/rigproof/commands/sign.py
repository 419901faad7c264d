"""`rigproof sign`: a person's signature under a record, as a file beside it."""

from __future__ import annotations

from pathlib import Path

import click

from rigproof.errors import UsageError
from rigproof.people import checked_name
from rigproof.signing import sign

from .verify import verify_folder


@click.command("sign")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--key", required=True, type=click.Path(path_type=Path), help="File with your Ed25519 private key, PEM (PKCS 8)."
)
@click.option("--name", required=True, help="Your name, as it shall stand under the record.")
def command(folder: Path, key: Path, name: str) -> None:
    """Sign the journal and the verdict in DIR with your key; a record that does not hold is not signed."""
    signer = checked_name(name)
    _, problems = verify_folder(folder)
    if problems:
        raise UsageError(
            f"{folder}: the record does not hold, and is not signed ({problems[0]}); see `rigproof verify`"
        )
    try:
        path = sign(folder, key, signer)
    except TypeError:  # the library's word for a key under a passphrase
        passphrase = click.prompt(f"passphrase of {key}", hide_input=True, err=True)
        path = sign(folder, key, signer, passphrase.encode("utf-8"))
    click.echo(f"{path}: give your public key to those who shall check it, by another way than this folder")
