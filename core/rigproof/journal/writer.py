"""Writing a journal: what was acknowledged survives a kill and, as far as the disk keeps its word, a power cut."""

from __future__ import annotations

import errno
import fcntl
import os
import time
from collections.abc import Mapping
from math import isfinite
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Self

import numpy as np

from rigproof.clock import Clock
from rigproof.errors import JournalError
from rigproof.instruments import FloatArray
from rigproof.journal.entry import FORMAT, Entry, decode, encode, link_of, seal, unseal
from rigproof.journal.reader import read_bytes

_SYNC_EVERY_S = 1.0  # real time: the most of a run's samples that a power cut may take


class _End(NamedTuple):
    """Where the next line goes. One object, so that a signal handler that raises finds either the old or the new."""

    n: int
    link: str
    size: int  # of the file, bytes


class JournalWriter:
    """Adds lines to one journal file. Not for use by several threads; one writer per file, kept by a lock on it."""

    def __init__(self, path: Path, clock: Clock, *, resume: bool = False) -> None:
        """Make the journal at `path`; its time begins now on `clock`.

        `resume`: go on with a journal that was broken off, its time too; what stands behind its last whole line is
        moved into `<name>.torn` beside it. Raises `JournalError` when the file exists already (or, to be resumed,
        does not hold together), when another process is writing it, and when the disk does not let us.
        """
        self.path = Path(path)
        self._clock = clock
        self._start_s = clock.now()
        self._end = _End(0, FORMAT, 0)
        self._file: int | None = self._open(0 if resume else os.O_CREAT | os.O_EXCL)
        try:
            if resume:
                self._take_up()
            self.sync()
            _sync_folder(self.path.parent)
        except OSError as error:
            self._let_go()
            raise self._trouble(error) from error
        except BaseException:
            self._let_go()
            raise

    def elapsed_s(self) -> float:
        """Seconds on the run's clock since the journal began, to the microsecond: the `t` of a line written now."""
        return round(self._clock.now() - self._start_s, 6)

    def place(self) -> int:
        """Where the next line will stand, in bytes; for `since`."""
        return self._end.size

    def since(self, place: int) -> list[Entry]:
        """The entries from a place on, read back: a step of many hours must not keep its readings in memory."""
        try:
            lines = os.pread(self._opened(), self._end.size - place, place).split(b"\n")
        except OSError as error:
            raise self._trouble(error) from error
        return [decode(body) for body, _ in filter(None, map(unseal, lines))]

    def write(self, kind: str, /, **fields: Any) -> Entry:
        """Write an event; it is on the disk when this returns. Gives the entry as a reader will see it.

        Fields are what JSON holds (numpy numbers and arrays too); nan and infinity are refused: write None.
        Raises `JournalError` for such a field, and when the disk is full or gone.
        """
        body = self._append(kind, fields, self.elapsed_s())
        self.sync()
        return decode(body)

    def samples(self, t0: Mapping[str, float], dt: float, values: Mapping[str, FloatArray], **fields: Any) -> Entry:
        """Write a block of samples of several channels, taken for one purpose.

        `values`: by channel, base units, shape (count,) each; `t0`: when each channel's first sample was taken;
        `dt` seconds lie between samples. nan and infinity become null. `fields` hold text, plain numbers, lists and
        mappings only: the entry keeps them as they are. The block is with the operating system when this returns, and
        on the disk when a second of real time has passed since the last sync; `sync` makes it so at once.
        """
        columns = {name: _column(name, column) for name, column in values.items()}
        data = {"t0": {name: float(t0[name]) for name in columns}, "dt": float(dt), "values": columns, **fields}
        n, t = self._end.n, self.elapsed_s()
        self._append("samples", data, t)
        if time.monotonic() - self._synced_s >= _SYNC_EVERY_S:
            self.sync()
        return Entry(n, t, "samples", data)

    def sync(self) -> None:
        """Wait until everything written is on the disk."""
        try:
            os.fsync(self._opened())
        except OSError as error:
            raise self._trouble(error) from error
        self._synced_s = time.monotonic()

    def close(self) -> None:
        """Sync and let go of the file; may be called twice."""
        if self._file is None:
            return
        try:
            self.sync()
        finally:
            self._let_go()

    def abandon(self) -> None:
        """Let go of a file that can no longer be kept; never raises."""
        self._let_go()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _open(self, flags: int) -> int:
        try:
            file = os.open(self.path, os.O_RDWR | os.O_APPEND | os.O_CLOEXEC | flags, 0o644)
        except FileExistsError:
            raise JournalError(
                f"journal={self.path}: is there already, and a journal is never written over; choose another folder"
            ) from None
        except OSError as error:
            raise self._trouble(error) from error
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            os.close(file)
            if isinstance(error, BlockingIOError):
                raise JournalError(f"journal={self.path}: another process is writing it; wait for its end") from None
            raise self._trouble(error) from error
        return file

    def _take_up(self) -> None:
        """Find the end of the chain, and put aside what a broken-off writer left behind it."""
        file = self._opened()
        with open(file, "rb", closefd=False) as stream:
            data = stream.read()
        journal = read_bytes(data, str(self.path))
        self._end = _End(len(journal.entries), journal.link, data.rfind(b"\n") + 1)
        if journal.entries:
            self._start_s -= journal.entries[-1].t
        if journal.torn:
            with self.path.with_name(f"{self.path.name}.torn").open("ab") as aside:
                aside.write(data[self._end.size :])
            os.ftruncate(file, self._end.size)

    def _append(self, kind: str, fields: Mapping[str, Any], t: float) -> bytes:
        file, end = self._opened(), self._end
        body = encode(end.n, t, kind, fields)
        link = link_of(end.link, body)
        line = seal(body, link)
        try:
            # A full disk or a signal handler that raised may have left a line nobody was told of: it goes first.
            if os.fstat(file).st_size != end.size:
                os.ftruncate(file, end.size)
            _write_all(file, line)
        except OSError as error:
            raise self._trouble(error) from error
        self._end = _End(end.n + 1, link, end.size + len(line))
        return body

    def _opened(self) -> int:
        if self._file is None:
            raise JournalError(f"journal={self.path}: is closed; nothing can be added to it")
        return self._file

    def _let_go(self) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None

    def _trouble(self, error: OSError) -> JournalError:
        remedy = _REMEDIES.get(error.errno or 0, "check the disk and the path")
        return JournalError(f"journal={self.path}: cannot be written ({error.strerror}); {remedy}")


_REMEDIES = {
    errno.ENOSPC: "the disk is full: make room; what was written before stays readable",
    errno.EDQUOT: "the quota is used up: make room; what was written before stays readable",
    errno.EFBIG: "the file may not grow further: raise the limit; what was written before stays readable",
    errno.EROFS: "the file system is read-only: choose another folder",
    errno.EACCES: "the folder may not be written by this user: choose another folder or change its permissions",
    errno.EPERM: "the folder may not be written by this user: choose another folder or change its permissions",
    errno.ENOENT: "the folder is not there: make it",
    errno.ENOTDIR: "the folder is not there: make it",
}


def _column(name: str, values: FloatArray) -> list[float | None]:
    column = np.asarray(values, dtype=np.float64)
    if column.ndim != 1:
        raise JournalError(f"samples of {name}: shape {column.shape} is no row of numbers; give one array per channel")
    return [number if isfinite(number) else None for number in column.tolist()]


def _write_all(file: int, data: bytes) -> None:
    view = memoryview(data)
    while view:
        view = view[os.write(file, view) :]


def _sync_folder(folder: Path) -> None:
    """Make the new file's name itself last through a power cut."""
    opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)
