"""Signatures under a record: Ed25519 (RFC 8032) over the SHA-256 of journal and verdict, in a file beside them.

A signature shows that whoever holds the private key saw these very bytes. Whose key that is it cannot show: only a
public key that came from the signer by another way can. Needs the extra `sign` (the library `cryptography`).
"""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from hashlib import sha256
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pydantic import Field, ValidationError

from rigproof.errors import UsageError
from rigproof.verdict.record import Record

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

FORMAT: Literal["rigproof: signature/1"] = "rigproof: signature/1"
JOURNAL, VERDICT = "journal.jsonl", "verdict.json"
ENDING = ".signature.json"
LACKS = 'signatures need the library `cryptography`: pip install "rigproof[sign]"'
MAKE = "`openssl genpkey -algorithm ed25519 -out key.pem` makes one, `openssl pkey -in key.pem -pubout` its public one"


class Signature(Record):
    """One signature; what is signed is `message`, whatever the file looks like."""

    format: Literal["rigproof: signature/1"] = FORMAT
    name: str = Field(description="of the signer, as they gave it")
    utc: str = Field(description="when, ISO 8601, by the signer's machine")
    journal: str = Field(description="SHA-256 of journal.jsonl, hexadecimal")
    verdict: str = Field(description="SHA-256 of verdict.json, hexadecimal")
    public_key: str = Field(description="of the signer, 32 bytes in base64; it proves nothing of who that is")
    signature: str = Field("", description="Ed25519, 64 bytes in base64")

    @property
    def message(self) -> bytes:
        """The bytes that are signed."""
        lines = (self.format, self.name, self.utc, f"journal {self.journal}", f"verdict {self.verdict}")
        return "".join(f"{line}\n" for line in lines).encode("utf-8")


def possible() -> bool:
    """Whether the library is here that signatures need."""
    return find_spec("cryptography") is not None


def sign(folder: Path, key_file: Path, name: str, passphrase: bytes | None = None) -> Path:
    """Sign the record in `folder`; gives the file. Raises `UsageError`, and `TypeError` where a passphrase lacks."""
    if not possible():
        raise UsageError(LACKS)
    key = _private_key(key_file, passphrase)
    public = base64.b64encode(key.public_key().public_bytes_raw()).decode("ascii")
    unsigned = Signature(
        name=name,
        utc=datetime.now(UTC).isoformat(timespec="seconds"),
        journal=_hash(folder / JOURNAL),
        verdict=_hash(folder / VERDICT),
        public_key=public,
    )
    signature = base64.b64encode(key.sign(unsigned.message)).decode("ascii")
    path = folder / f"{re.sub(r'[^0-9A-Za-z]+', '-', name).strip('-').lower() or 'signer'}{ENDING}"
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(unsigned.model_copy(update={"signature": signature}).model_dump_json(indent=1) + "\n")
    except FileExistsError:
        raise UsageError(f"{path}: is there already; move it away, or sign with another name") from None
    except OSError as error:
        raise UsageError(f"{path}: cannot be written ({error.strerror})") from None
    return path


def check_signatures(folder: Path, known: Path | None) -> tuple[list[str], list[str]]:
    """What the signatures beside a record show, and what is wrong with them; `known` holds a public key (PEM).

    Raises `UsageError` where that is no key, or where signatures cannot be checked here.
    """
    files = sorted(folder.glob(f"*{ENDING}"))
    if known is None and not files:
        return [], []
    if not possible():
        if known is not None:
            raise UsageError(LACKS)
        return [f"{path.name}: was not checked; {LACKS}" for path in files], []
    key = base64.b64encode(_public_key(known).public_bytes_raw()).decode("ascii") if known else None
    checked: list[str] = []
    problems: list[str] = []
    by_known = False
    for path in files:
        try:
            signature = Signature.model_validate_json(path.read_bytes())
        except (OSError, ValidationError) as error:
            problems.append(f"{path.name}: is no signature ({str(error).splitlines()[0]})")
            continue
        wrong = list(_wrong(signature, folder))
        problems += [f"{path.name}: {each}" for each in wrong]
        mine = signature.public_key == key
        by_known |= mine and not wrong
        if not wrong:
            checked.append(f"{path.name}: {_shows(signature, mine)}")
    if known is not None and not by_known:
        problems.append(f"no signature by the key in {known} holds for this record")
    return checked, problems


def _shows(signature: Signature, known: bool) -> str:
    said = f"journal and verdict are as they were signed on {signature.utc}"
    if known:
        return f"{said} with the key given, by {signature.name}"
    return (
        f"{said} in the name of {signature.name}, with a key that nobody vouches for here: anybody could have made it "
        "and signed in that name after a change. Give the public key that you had from the signer: --public-key FILE"
    )


def _wrong(signature: Signature, folder: Path) -> Iterator[str]:
    """Why a signature does not hold for the record."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        key = Ed25519PublicKey.from_public_bytes(base64.b64decode(signature.public_key, validate=True))
        key.verify(base64.b64decode(signature.signature, validate=True), signature.message)
    except (InvalidSignature, ValueError):
        yield "was changed, or made by another key than it names"
        return
    for name, signed in ((JOURNAL, signature.journal), (VERDICT, signature.verdict)):
        if _hash(folder / name) != signed:
            yield f"{name} is not the one that was signed"


def _hash(path: Path) -> str:
    try:
        return sha256(path.read_bytes()).hexdigest()
    except OSError as error:
        raise UsageError(f"{path}: cannot be read ({error.strerror}); give the folder of a run") from None


def _private_key(file: Path, passphrase: bytes | None) -> Ed25519PrivateKey:
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        key = load_pem_private_key(_bytes_of(file), passphrase)
    except (ValueError, UnsupportedAlgorithm):
        raise UsageError(f"{file}: is no private key in PEM, or its passphrase is another; {MAKE}") from None
    if not isinstance(key, Ed25519PrivateKey):
        raise UsageError(f"{file}: is no Ed25519 key; {MAKE}")
    return key


def _public_key(file: Path) -> Ed25519PublicKey:
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    from cryptography.hazmat.primitives.serialization import load_pem_public_key

    try:
        key = load_pem_public_key(_bytes_of(file))
    except (ValueError, UnsupportedAlgorithm):
        raise UsageError(f"{file}: is no public key in PEM; {MAKE}") from None
    if not isinstance(key, Ed25519PublicKey):
        raise UsageError(f"{file}: is no Ed25519 key; {MAKE}")
    return key


def _bytes_of(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise UsageError(f"{file}: cannot be read ({error.strerror}); {MAKE}") from None
