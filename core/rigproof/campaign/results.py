"""What the trials of a campaign came to, in a file that is only ever added to: a campaign goes on where it was left."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from rigproof.errors import UsageError

from .trial import Caught, Result, Trial

FORMAT = "rigproof: campaign/1"
DOCUMENTS = ("rig.yaml", "acceptance.yaml", "twin.yaml")


class Results:
    """The results of the trials taken so far, by trial; with a `file`, each is written there before it counts.

    Raises `UsageError` for a file that holds another rig's results or none of ours. A torn last line is dropped.
    """

    def __init__(self, rig: Path, file: Path | None = None) -> None:
        self._known: dict[Trial, Result] = {}
        self._file = file
        if file is None:
            return
        head = {"format": FORMAT, "documents": {name: _sha256(rig / name) for name in DOCUMENTS}}
        if file.exists():
            self._read(file, head)
        else:
            file.write_text(_line(head), encoding="utf-8")

    def __getitem__(self, trial: Trial) -> Result:
        return self._known[trial]

    def __contains__(self, trial: Trial) -> bool:
        return trial in self._known

    def add(self, result: Result) -> None:
        """Keep a result."""
        if self._file is not None:
            with self._file.open("a", encoding="utf-8") as stream:
                stream.write(_line(asdict(result)))
        self._known[result.trial] = result

    def _read(self, file: Path, head: dict[str, Any]) -> None:
        text = file.read_text(encoding="utf-8")
        whole = text[: text.rfind("\n") + 1]
        try:
            first, *rest = [json.loads(line) for line in whole.splitlines()]
            same = first == head
            for data in rest if same else ():
                result = _result(data)
                self._known[result.trial] = result
        except (ValueError, KeyError, TypeError) as error:
            raise UsageError(f"{file}: is no list of trials ({error}); name another folder for --out") from None
        if not same:
            raise UsageError(f"{file}: holds trials of other documents than the rig has now; name another --out")
        if whole != text:
            file.write_text(whole, encoding="utf-8")

    def __iter__(self) -> Iterator[Result]:
        return iter(self._known.values())


def _result(data: dict[str, Any]) -> Result:
    trial = Trial(tuple(data["trial"]["flaws"]), data["trial"]["seed"])
    return Result(trial, data["verdict"], data["why"], tuple(Caught(**caught) for caught in data["caught"]))


def _line(data: dict[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=False, separators=(",", ":")) + "\n"


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.exists() else ""
