"""One run at a time on a rig and in a folder: a file with the holder's name, locked by the operating system.

The lock itself is `flock`, which the system drops with the process, however it ends; the file only says who holds it.
A file that was left behind by a process of this machine is therefore a dead one's. One of another machine may be
alive all the same, where a shared disk keeps locks to one machine: that one is not taken over.
"""

from __future__ import annotations

import errno
import fcntl
import getpass
import json
import os
import socket
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from rigproof.errors import UsageError

FILE = "run.lock"


@contextmanager
def locked(folders: Iterable[Path], record: Path, say: Callable[[str], None]) -> Iterator[None]:
    """Hold the lock of each folder inside the `with`; `record` is where the run writes.

    Raises `UsageError` with the holder's name where another run has one of them.
    """
    with ExitStack() as stack:
        for folder in dict.fromkeys(folder.resolve() for folder in folders):
            _lock(stack, folder, record, say)
        yield


def _lock(stack: ExitStack, folder: Path, record: Path, say: Callable[[str], None]) -> None:
    path = folder / FILE
    try:
        file = _open(path)
    except OSError as error:
        if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):  # documents on a share that only others may write
            say(f"{folder} may not be written, so nothing keeps a second run off it")
            return
        raise UsageError(f"{path}: cannot be locked ({error.strerror}); choose another folder") from None
    stack.callback(os.close, file)
    left = _read(file)
    if left and left.get("host") != socket.gethostname():
        raise UsageError(
            f"{folder}: {_named(left)}, may go on there, which nobody can tell from here. See that it has ended and "
            f"that the rig is safe; then remove {path}"
        )
    if left:
        say(f"{folder}: {_named(left)}, has died; its lock is taken over")
    _write(file, record)
    stack.callback(_remove, path)


def _open(path: Path) -> int:
    """The file, locked, and still the one of that name."""
    while True:
        file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = _read(file)
            os.close(file)
            raise UsageError(
                f"{path.parent}: {_named(holder)}, is under way; wait for its end, or stop it there with Ctrl-C: two "
                "runs on one rig would load it against each other"
            ) from None
        except OSError:
            os.close(file)
            raise
        with suppress(FileNotFoundError):
            if os.stat(path).st_ino == os.fstat(file).st_ino:
                return file
        os.close(file)  # its holder removed it between our two calls


def _write(file: int, record: Path) -> None:
    holder = {
        "pid": os.getpid(),
        "host": socket.gethostname(),
        "user": _user(),
        "since": f"{datetime.now(UTC):%Y-%m-%d %H:%M:%S} UTC",
        "record": str(record.resolve()),
    }
    with suppress(OSError):  # a full disk: the lock holds all the same, only without a name
        os.ftruncate(file, 0)
        os.pwrite(file, json.dumps(holder, ensure_ascii=False).encode("utf-8", "replace"), 0)


def _user() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # a user without a name, in a container
        return f"number {os.getuid()}"


def _read(file: int) -> dict[str, object]:
    """Who the file names; empty where nobody."""
    try:
        found = json.loads(os.pread(file, 10_000, 0))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _named(holder: dict[str, object]) -> str:
    if not holder:
        return "a run of somebody who is not named"
    return (
        f"the run since {holder.get('since')} (process {holder.get('pid')} on {holder.get('host')}, user "
        f"{holder.get('user')}, record in {holder.get('record')})"
    )


def _remove(path: Path) -> None:
    with suppress(OSError):
        path.unlink()
