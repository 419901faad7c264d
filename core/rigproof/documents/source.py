"""A document's bytes to text: sizes, encodings and files that are none, each with a clear fault."""

from __future__ import annotations

import re
import stat
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from pathlib import Path

from rigproof.errors import DocumentError, Fault

LARGEST = 1 << 20  # bytes; a rig of a hundred channels has about 40 kB
BOM = "\ufeff"

_BREAK = re.compile("\r\n|[\n\r\x85\u2028\u2029]")  # as YAML 1.1 breaks lines (5.4); not what str.splitlines does
_UNPRINTABLE = re.compile("[^\t\n\r -~\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # YAML 1.1, 5.1


@dataclass(frozen=True)
class Source:
    """A document as text, exactly as it was written (a leading byte order mark included)."""

    file: str  # what messages call it
    text: str

    @property
    def sha256(self) -> str:
        """Hash of the file's bytes."""
        return sha256(self.text.encode("utf-8", "surrogatepass")).hexdigest()

    @cached_property
    def body(self) -> str:
        """The text to parse."""
        return self.text.removeprefix(BOM)

    @cached_property
    def lines(self) -> list[str]:
        """The lines of the body, without their ends."""
        return _BREAK.split(self.body)

    def fault(self, line: int, column: int, where: str, message: str, remedy: str = "", width: int = 1) -> Fault:
        """A fault at a line and column counted from 1 (0: the whole file)."""
        line = min(line, len(self.lines))
        text = self.lines[line - 1] if line else ""
        room = max(1, len(text) - column + 1)
        return Fault(self.file, line, column, where, message, remedy, text, max(1, min(width, room)))

    def place(self, index: int) -> tuple[int, int]:
        """Line and column, from 1, of a position in the body."""
        before = _BREAK.split(self.body[:index])
        return len(before), len(before[-1]) + 1


def read_source(path: Path) -> Source:
    """Read a file; anything that is no readable UTF-8 text of at most 1 MiB raises a DocumentError."""
    try:
        data = _bytes(path)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise _no_file(path, f"cannot be read: {reason.lower()}", "name a file that exists and may be read") from None
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise _not_utf8(str(path), data, error.start) from None
    return source_of(text, str(path))


def source_of(text: str, name: str) -> Source:
    """A document from text, as a journal keeps it; the same rules as for a file."""
    source = Source(name, text)
    if len(text) > LARGEST or len(text.encode("utf-8", "surrogatepass")) > LARGEST:
        raise _too_large(name, len(text))
    if found := _UNPRINTABLE.search(source.body):
        line, column = source.place(found.start())
        said = f"the character U+{ord(found.group()):04X} cannot be printed"
        raise DocumentError([source.fault(line, column, "document", said, "take it out")])
    return source


def _bytes(path: Path) -> bytes:
    status = path.stat()
    if stat.S_ISDIR(status.st_mode):
        raise _no_file(path, "is a folder, and a file is wanted", "name the file in it")
    if not stat.S_ISREG(status.st_mode):
        raise _no_file(path, "is no ordinary file", "name a text file")
    if status.st_size > LARGEST:
        raise _too_large(str(path), status.st_size)
    with path.open("rb") as file:
        return file.read(LARGEST + 1)  # it may have grown since; `source_of` looks again


def _no_file(path: Path, message: str, remedy: str) -> DocumentError:
    return DocumentError([Fault(str(path), 0, 0, "document", message, remedy)])


def _too_large(name: str, size: int) -> DocumentError:
    message = f"has {size:,} bytes, and a document has at most {LARGEST:,}"
    return DocumentError([Fault(name, 0, 0, "document", message, "is this the right file?")])


def _not_utf8(name: str, data: bytes, start: int) -> DocumentError:
    if data[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        said = "the file begins as UTF-16 does, and UTF-8 is wanted"
        return DocumentError([Fault(name, 0, 0, "document", said, "save it as UTF-8")])
    before = Source(name, data[:start].decode("utf-8"))
    line, column = before.place(len(before.body))
    byte = data[start]
    said = f"the byte 0x{byte:02x} is not UTF-8; in Latin-1 it is {bytes([byte]).decode('latin-1')!r}"
    rest = _BREAK.split(data[start : start + 200].decode("latin-1"))[0]
    text = before.lines[-1] + rest
    return DocumentError([Fault(name, line, column, "document", said, "save the file as UTF-8", text)])
