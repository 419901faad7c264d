"""Signatures: what they bind, what they find, and that they never claim to know whose key it was."""

from __future__ import annotations

import base64
import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
)

from rigproof import signing
from rigproof.__main__ import run
from rigproof.documents import fit, load_procedure
from rigproof.errors import ExitCode
from rigproof.run.plan import Plan
from rigproof.signing import Signature
from rigproof.verdict.record import Verdict

NAME = "Ada Tester"
FILE = "ada-tester.signature.json"


@pytest.fixture(scope="module")
def record(accept: Callable[..., Verdict], spool: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("run")
    text = "rigproof: procedure/1\nname: x\nsteps:\n  - resistance: {}\n"
    procedure = load_procedure(text=text, registry=spool.registry)
    fit(spool.rig, procedure)
    accept(Plan(spool.rig, procedure, spool.registry), folder)
    return folder


@pytest.fixture
def folder(record: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(record, tmp_path / "run"))


def made(folder: Path, name: str = "key", passphrase: bytes = b"") -> tuple[Path, Path]:
    """A key pair in files: private, public."""
    key = Ed25519PrivateKey.generate()
    private, public = folder / f"{name}.pem", folder / f"{name}.pub.pem"
    locked = BestAvailableEncryption(passphrase) if passphrase else NoEncryption()
    private.write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, locked))
    public.write_bytes(key.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo))
    return private, public


@pytest.fixture
def keys(tmp_path: Path) -> tuple[Path, Path]:
    return made(tmp_path)


def signed(folder: Path, private: Path, name: str = NAME) -> Path:
    assert run(["sign", str(folder), "--key", str(private), "--name", name]) == ExitCode.ACCEPT
    return folder / FILE


def test_a_signature_holds_with_its_key(
    folder: Path, keys: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    signed(folder, keys[0])
    assert "give your public key to those who shall check it" in capsys.readouterr().out
    assert run(["verify", str(folder), "--public-key", str(keys[1])]) == ExitCode.ACCEPT
    said = capsys.readouterr().out.splitlines()[-1]
    assert said.startswith(f"{FILE}: journal and verdict are as they were signed on 20")
    assert said.endswith(f"with the key given, by {NAME}")


def test_without_a_known_key_it_says_what_that_is_worth(
    folder: Path, keys: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    signed(folder, keys[0])
    assert run(["verify", str(folder)]) == ExitCode.ACCEPT
    said = capsys.readouterr().out
    assert "with a key that nobody vouches for here: anybody could have made it" in said
    assert "--public-key FILE" in said


def test_another_key_in_the_same_name_is_found(
    folder: Path, keys: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The forger's way: change the record, judge it again, sign it anew in the old name."""
    stranger, _ = made(tmp_path, "stranger")
    signed(folder, stranger)
    assert run(["verify", str(folder), "--public-key", str(keys[1])]) == ExitCode.VOID
    assert "DOES NOT HOLD: no signature by the key in" in capsys.readouterr().out


def test_no_signature_where_one_is_asked_for(folder: Path, keys: tuple[Path, Path]) -> None:
    assert run(["verify", str(folder), "--public-key", str(keys[1])]) == ExitCode.VOID


def test_a_verdict_or_journal_changed_since_is_named(
    folder: Path, keys: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    """Also where the change fits together, as after another judging."""
    signed(folder, keys[0])
    with (folder / "verdict.json").open("ab") as file:
        file.write(b"\n")
    assert run(["verify", str(folder), "--public-key", str(keys[1])]) == ExitCode.VOID
    assert f"{FILE}: verdict.json is not the one that was signed" in capsys.readouterr().out


@pytest.mark.parametrize("field", ["name", "utc", "journal", "verdict", "public_key", "signature"])
def test_a_changed_signature_is_found(
    folder: Path, keys: tuple[Path, Path], field: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = signed(folder, keys[0])
    told = json.loads(path.read_text("utf-8"))
    told[field] = ("B" if told[field][0] == "A" else "A") + told[field][1:]
    path.write_text(json.dumps(told), "utf-8")
    assert run(["verify", str(folder), "--public-key", str(keys[1])]) == ExitCode.VOID
    assert f"{FILE}: was changed, or made by another key than it names" in capsys.readouterr().out


@pytest.mark.parametrize("content", [b"", b"{}", b"\xff", b'{"format": "rigproof: signature/1"}'])
def test_a_file_that_is_no_signature_is_told(folder: Path, content: bytes, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / FILE).write_bytes(content)
    assert run(["verify", str(folder)]) == ExitCode.VOID
    assert f"{FILE}: is no signature" in capsys.readouterr().out


def test_two_people_sign_one_record(folder: Path, keys: tuple[Path, Path], tmp_path: Path) -> None:
    other, public = made(tmp_path, "other")
    signed(folder, keys[0])
    assert run(["sign", str(folder), "--key", str(other), "--name", "Ben Witness"]) == ExitCode.ACCEPT
    for known in (keys[1], public):
        assert run(["verify", str(folder), "--public-key", str(known)]) == ExitCode.ACCEPT
    assert run(["sign", str(folder), "--key", str(other), "--name", "Ben Witness"]) == ExitCode.WRONG_INPUT


def test_a_record_that_does_not_hold_is_not_signed(
    folder: Path, keys: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    journal = folder / "journal.jsonl"
    journal.write_bytes(journal.read_bytes().replace(b"resistance", b"resistanse", 1))
    assert run(["sign", str(folder), "--key", str(keys[0]), "--name", NAME]) == ExitCode.WRONG_INPUT
    assert "the record does not hold, and is not signed" in capsys.readouterr().err
    assert not (folder / FILE).exists()


def test_a_key_under_a_passphrase(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    private, public = made(tmp_path, "locked", b"open it")
    monkeypatch.setattr("click.prompt", lambda *_, **__: "open it")
    signed(folder, private)
    assert run(["verify", str(folder), "--public-key", str(public)]) == ExitCode.ACCEPT
    (folder / FILE).unlink()
    monkeypatch.setattr("click.prompt", lambda *_, **__: "wrong")
    assert run(["sign", str(folder), "--key", str(private), "--name", NAME]) == ExitCode.WRONG_INPUT


def test_keys_that_are_none_are_refused_with_the_remedy(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    curve = generate_private_key(SECP256R1())
    other = tmp_path / "other.pem"
    other.write_bytes(curve.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    other_public = tmp_path / "other.pub"
    other_public.write_bytes(curve.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo))
    for option, words in (
        (tmp_path / "none", "cannot be read"),
        (folder / "verdict.json", "is no "),
        (other, "Ed25519"),
    ):
        assert run(["sign", str(folder), "--key", str(option), "--name", NAME]) == ExitCode.WRONG_INPUT
        said = capsys.readouterr().err
        assert words in said
        assert "openssl genpkey -algorithm ed25519" in said
    for option in (tmp_path / "none", folder / "verdict.json", other_public):
        assert run(["verify", str(folder), "--public-key", str(option)]) == ExitCode.WRONG_INPUT
        assert "openssl" in capsys.readouterr().err


def test_a_missing_library_is_named(
    folder: Path, keys: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    signed(folder, keys[0])
    monkeypatch.setattr(signing, "find_spec", lambda _: None)
    capsys.readouterr()
    for command in (["sign", str(folder), "--key", str(keys[0]), "--name", "Ben Witness"],
                    ["verify", str(folder), "--public-key", str(keys[1])]):  # fmt: skip
        assert run(command) == ExitCode.WRONG_INPUT
        assert 'pip install "rigproof[sign]"' in capsys.readouterr().err
    assert run(["verify", str(folder)]) == ExitCode.ACCEPT  # chain and verdict hold; the signature is told
    assert f"{FILE}: was not checked" in capsys.readouterr().out


@pytest.mark.skipif(shutil.which("openssl") is None, reason="needs openssl, an implementation of its own")
def test_openssl_makes_the_key_and_finds_the_signature_good(folder: Path, tmp_path: Path) -> None:
    """RFC 8032 by an independent program: key pair, our signature over our message."""
    private, public = tmp_path / "o.pem", tmp_path / "o.pub.pem"
    for command in (
        ["genpkey", "-algorithm", "ed25519", "-out", str(private)],
        ["pkey", "-in", str(private), "-pubout", "-out", str(public)],
    ):
        subprocess.run(["openssl", *command], check=True, capture_output=True)
    signature = Signature.model_validate_json(signed(folder, private).read_bytes())
    message, raw = tmp_path / "message", tmp_path / "raw"
    message.write_bytes(signature.message)
    raw.write_bytes(base64.b64decode(signature.signature))
    check = ["openssl", "pkeyutl", "-verify", "-pubin", "-inkey", str(public), "-rawin"]
    check += ["-in", str(message), "-sigfile", str(raw)]
    assert subprocess.run(check, check=False, capture_output=True).returncode == 0
    message.write_bytes(signature.message.replace(b"Ada", b"Ida"))
    assert subprocess.run(check, check=False, capture_output=True).returncode != 0
