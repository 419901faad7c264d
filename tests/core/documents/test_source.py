"""Files that are no readable documents: each gives a clear fault and never a traceback."""

from __future__ import annotations

import os
from hashlib import sha256
from pathlib import Path

import pytest

from rigproof.documents.source import LARGEST, read_source, source_of
from rigproof.errors import DocumentError, Fault


def fault_of(path: Path) -> Fault:
    with pytest.raises(DocumentError) as caught:
        read_source(path)
    (fault,) = caught.value.faults
    assert fault.file == str(path)
    assert fault.remedy
    return fault


def written(folder: Path, data: bytes) -> Path:
    path = folder / "rig.yaml"
    path.write_bytes(data)
    return path


def test_keeps_every_byte(tmp_path: Path) -> None:
    data = "\ufeffname: µε 🙂\r\nnext: 1\r\n".encode()
    source = read_source(written(tmp_path, data))
    assert source.text.encode() == data
    assert source.sha256 == sha256(data).hexdigest()
    assert source.body.startswith("name")
    assert source.lines == ["name: µε 🙂", "next: 1", ""]
    assert source_of(source.text, source.file) == source


def test_no_file(tmp_path: Path) -> None:
    assert "no such file" in fault_of(tmp_path / "none.yaml").message
    assert "not a directory" in fault_of(written(tmp_path, b"a: 1") / "rig.yaml").message


def test_a_folder(tmp_path: Path) -> None:
    assert "is a folder" in fault_of(tmp_path).message


def test_a_name_no_file_can_have() -> None:
    assert "cannot be read" in fault_of(Path("rig\0.yaml")).message
    assert "name too long" in fault_of(Path("r" * 5000)).message


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    assert "no ordinary file" in fault_of(tmp_path / "pipe.yaml").message
    assert "no ordinary file" in fault_of(Path("/dev/zero")).message


def test_no_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: Path, mode: str) -> None:
        raise PermissionError(13, "Permission denied")

    path = written(tmp_path, b"a: 1")
    monkeypatch.setattr(Path, "open", refuse)  # root may read everything, so the refusal is played
    assert "permission denied" in fault_of(path).message


def test_a_large_file_is_not_even_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path, b"")
    os.truncate(path, 50_000_000)
    monkeypatch.setattr(Path, "open", lambda *_: pytest.fail("opened"))
    assert "has 50,000,000 bytes, and a document has at most 1,048,576" in fault_of(path).message


def test_a_large_text_from_a_journal() -> None:
    with pytest.raises(DocumentError, match="at most"):
        source_of("µ" * (LARGEST // 2 + 1), "rig.yaml")


def test_latin_1(tmp_path: Path) -> None:
    fault = fault_of(written(tmp_path, "name: x\nlimit: 700 µε\n".encode().replace("µ".encode(), b"\xb5")))
    assert (fault.line, fault.column) == (2, 12)
    assert fault.message == "the byte 0xb5 is not UTF-8; in Latin-1 it is 'µ'"
    assert fault.text.startswith("limit: 700 µ")


def test_utf_16(tmp_path: Path) -> None:
    assert "UTF-16" in fault_of(written(tmp_path, "name: x\n".encode("utf-16"))).message


@pytest.mark.parametrize(
    ("text", "place", "code"),
    [("a: 1\nb: \x00", (2, 4), "U+0000"), ("\x1b[31m", (1, 1), "U+001B"), ("a: \ud800", (1, 4), "U+D800")],
)
def test_characters_that_cannot_be_printed(text: str, place: tuple[int, int], code: str) -> None:
    with pytest.raises(DocumentError) as caught:
        source_of(text, "rig.yaml")
    (fault,) = caught.value.faults
    assert (fault.line, fault.column) == place
    assert code in fault.message
