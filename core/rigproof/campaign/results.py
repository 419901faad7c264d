"""The results file of a campaign: one JSON line per trial, appended as it is known, so that nothing is done twice."""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
from dataclasses import asdict
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from pydantic import TypeAdapter, ValidationError

from rigproof import __version__
from rigproof.errors import UsageError

from .trial import Result, Trial

FILE = "trials.jsonl"
FORMAT = "rigproof: trials/1"
DOCUMENTS = ("rig.yaml", "acceptance.yaml", "twin.yaml")
_RESULT = TypeAdapter(Result)


def digests(rig: Path) -> dict[str, str]:
    """SHA-256 of the documents that a trial rests on, by file name."""
    try:
        return {name: hashlib.sha256((rig / name).read_bytes()).hexdigest() for name in DOCUMENTS}
    except OSError as error:
        raise UsageError(f"{error.filename}: cannot be read ({error.strerror}); a campaign needs all three") from None


def line_of(result: Result) -> str:
    """A result as it stands in the file, without the end of the line."""
    return json.dumps(asdict(result), ensure_ascii=False)


class Results:
    """Context manager over the file in `folder`; what is there already is read, and belongs to the same documents.

    Raises `UsageError` for a file of other documents or of another version, for one that cannot be read, and while
    another campaign writes to it. `kept`: whether the folder is there after the campaign.
    """

    def __init__(self, folder: Path, documents: dict[str, str], kept: bool = True) -> None:
        self.path, self.kept = folder / FILE, kept
        self._head = {"format": FORMAT, "rigproof": __version__, "documents": documents}
        self._known: dict[Trial, Result] = {}
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._file = self.path.open("a+b")
        except OSError as error:
            raise UsageError(f"{self.path}: cannot be written ({error.strerror}); choose another --out") from None
        try:
            self._lock()
            self._read()
        except BaseException:
            self._file.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()

    def __contains__(self, trial: Trial) -> bool:
        return trial in self._known

    def __getitem__(self, trial: Trial) -> Result:
        return self._known[trial]

    def __len__(self) -> int:
        return len(self._known)

    def append(self, result: Result) -> None:
        """Keep a result; it is in the hands of the operating system when this returns."""
        self._write(line_of(result))
        self._known[result.trial] = result

    def _write(self, line: str) -> None:
        try:
            self._file.write(line.encode("utf-8") + b"\n")
            self._file.flush()
        except OSError as error:
            raise UsageError(f"{self.path}: cannot be written ({error.strerror}); make room and go on") from None

    def _lock(self) -> None:
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise UsageError(f"{self.path}: another campaign writes to it; wait for its end") from None

    def _read(self) -> None:
        self._file.seek(0)
        *lines, torn = self._file.read().split(b"\n")
        if torn:  # a process was killed while it wrote this line: the trial is taken again
            os.ftruncate(self._file.fileno(), sum(len(line) + 1 for line in lines))
        if not lines:
            self._write(json.dumps(self._head, ensure_ascii=False))
            return
        self._compare(lines[0])
        for number, line in enumerate(lines[1:], 2):
            try:
                result = _RESULT.validate_json(line)
            except ValidationError:
                raise UsageError(f"{self.path}:{number}: is no result of a trial; choose another --out") from None
            self._known[result.trial] = result

    def _compare(self, line: bytes) -> None:
        try:
            head: Any = json.loads(line)
        except ValueError:
            head = None
        if not isinstance(head, dict) or head.get("format") != FORMAT:
            raise UsageError(f"{self.path}:1: is no file of results; choose another --out")
        if head == self._head:
            return
        if head.get("rigproof") != __version__:
            raise UsageError(
                f"{self.path}:1: results of rigproof {head.get('rigproof')}, this is {__version__}; "
                "choose another --out"
            )
        written = head.get("documents") or {}
        other = [name for name in DOCUMENTS if written.get(name) != self._head["documents"][name]]  # type: ignore[index]
        raise UsageError(
            f"{self.path}:1: results of another {', '.join(other)} (SHA-256 differs); choose another --out"
        )
