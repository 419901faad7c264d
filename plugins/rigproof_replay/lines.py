"""The lines of a recorded file as text, one at a time, in bounded memory."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from pathlib import Path

from rigproof.errors import DocumentError, Fault

LARGEST = 1 << 30  # bytes of a record
WIDEST = 1 << 16  # characters of a line

_UNDECODED = re.compile("[\udc80-\udcff]")  # bytes that are no letters in the encoding stated


class LineError(Exception):
    """A line that cannot be read, and all behind it neither."""

    def __init__(self, line: int, message: str, remedy: str) -> None:
        self.line, self.message, self.remedy = line, message, remedy
        super().__init__(message)


def looked_at(path: Path, encoding: str) -> str:
    """SHA-256 of the file, after a look at what kind of file it is. Raises `DocumentError` where it is no text."""
    try:
        size = path.stat().st_size
        if not path.is_file():
            raise refused(path, "is no ordinary file", "name the file in which the readings were recorded")
        with path.open("rb") as stream:
            start = stream.read(4096)
            stream.seek(0)
            digest = hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        remedy = "`resource` names the record, from the rig's folder"
        raise refused(path, f"cannot be read: {(error.strerror or str(error)).lower()}", remedy) from None
    if size == 0:
        raise refused(path, "is empty", "is this the right file? Was the record copied whole?")
    if size > LARGEST:
        raise refused(path, f"has {size:,} bytes, and at most {LARGEST:,} are read", "cut out the hours of the run")
    wide = start[:2] in {b"\xff\xfe", b"\xfe\xff"}
    if wide and encoding != "utf-16":
        raise refused(path, "begins as UTF-16 does", "write `encoding: utf-16`")
    if not wide and b"\0" in start:
        raise refused(path, "is a binary file, and a table of text is wanted", "export the record as CSV")
    return digest


def refused(path: Path, message: str, remedy: str) -> DocumentError:
    """What is wrong with a record as a whole."""
    return DocumentError([Fault(str(path), 0, 0, "record", message, remedy)])


def lines_of(path: Path, codec: str) -> Iterator[str]:
    """Every line without its end; raises `LineError` at one that cannot be read."""
    number = 0
    with path.open(encoding=codec, errors="surrogateescape") as stream:
        try:
            while line := stream.readline(WIDEST + 1):
                number += 1
                _look_at(line, number)
                yield line.rstrip("\n")
        except UnicodeError as error:
            raise LineError(number + 1, f"cannot be decoded ({error})", "state the right `encoding`") from None


def _look_at(line: str, number: int) -> None:
    if len(line) > WIDEST:
        raise LineError(number, f"has more than {WIDEST:,} characters", "is this a table with lines?")
    if not line.isascii() and (found := _UNDECODED.search(line)):
        said = f"the byte 0x{ord(found.group()) - 0xDC00:02x} is no letter in the encoding stated"
        raise LineError(number, said, "state the right one: `encoding: latin-1` or `windows-1252`")
