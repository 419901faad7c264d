"""A VISA library whose instruments follow a script: exactly these bytes in, exactly these bytes out."""

from __future__ import annotations

import itertools
import sys
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from types import ModuleType
from typing import Any

import pytest
from pyvisa import rname
from pyvisa.constants import ResourceAttribute, StatusCode
from pyvisa.highlevel import VisaLibraryBase, open_visa_library

from rigproof.instruments import Connection

NO_ERROR = '0,"No error"'


class StillClock:
    """A clock that moves only when somebody waits."""

    def __init__(self) -> None:
        self.seconds = 0.0
        self.waits: list[float] = []

    def now(self) -> float:
        return self.seconds

    def wait(self, seconds: float) -> None:
        assert seconds >= 0
        self.waits.append(seconds)
        self.seconds += seconds

    def utc(self) -> datetime:
        return datetime(2026, 11, 25, tzinfo=UTC)


@dataclass
class Late:
    """A reply that comes `after_s`."""

    reply: bytes
    after_s: float


@dataclass
class Line:
    """One instrument: its script, and what was done to it."""

    script: deque[tuple[bytes, object]] = field(default_factory=deque)
    pending: deque[Late] = field(default_factory=deque)
    opened: int = 0
    cleared: int = 0
    faults: list[str] = field(default_factory=list)


class ScriptedLibrary(VisaLibraryBase):
    """The VISA calls that a message-based resource makes."""

    clock: StillClock

    def _init(self) -> None:
        self.lines: dict[str, Line] = {}
        self._handles = itertools.count(1)
        self._sessions: dict[int, tuple[str, dict[int, Any]]] = {}

    def open_default_resource_manager(self) -> Any:
        return next(self._handles), self.handle_return_value(None, StatusCode.success)

    def open(self, session: Any, resource_name: str, access_mode: Any = None, open_timeout: Any = 0) -> Any:
        if resource_name not in self.lines:
            return 0, self.handle_return_value(None, StatusCode.error_resource_not_found)
        handle = next(self._handles)
        self._sessions[handle] = (resource_name, {ResourceAttribute.termchar_enabled: False})
        self.lines[resource_name].opened += 1
        if resource_name.endswith("SOCKET"):  # a new connection knows nothing of the old one's replies
            self.lines[resource_name].pending.clear()
        return handle, self.handle_return_value(None, StatusCode.success)

    def close(self, session: Any) -> Any:
        self._sessions.pop(session, None)  # else it is the manager's handle
        return self.handle_return_value(None, StatusCode.success)

    @property
    def open_sessions(self) -> int:
        return len(self._sessions)

    def disable_event(self, session: Any, event_type: Any, mechanism: Any) -> Any:
        return self.handle_return_value(session, StatusCode.success)

    def discard_events(self, session: Any, event_type: Any, mechanism: Any) -> Any:
        return self.handle_return_value(session, StatusCode.success)

    def get_attribute(self, session: Any, attribute: Any) -> Any:
        return self._sessions[session][1][attribute], self.handle_return_value(session, StatusCode.success)

    def set_attribute(self, session: Any, attribute: Any, attribute_state: Any) -> Any:
        self._sessions[session][1][attribute] = attribute_state
        return self.handle_return_value(session, StatusCode.success)

    def clear(self, session: Any) -> Any:
        line = self.lines[self._sessions[session][0]]
        line.cleared += 1
        line.pending.clear()
        return self.handle_return_value(session, StatusCode.success)

    def write(self, session: Any, data: bytes) -> Any:
        line = self.lines[self._sessions[session][0]]
        if not line.script:
            line.faults.append(f"sent {data!r}, but the script is at its end")
            raise AssertionError(line.faults[-1])
        expected, reply = line.script.popleft()
        if data != expected:
            line.faults.append(f"sent {data!r}, but the script says {expected!r}")
            raise AssertionError(line.faults[-1])
        if isinstance(reply, StatusCode):
            return 0, self.handle_return_value(session, reply)
        if isinstance(reply, BaseException):
            raise reply
        if isinstance(reply, Late):
            line.pending.append(reply)
        elif isinstance(reply, bytes | tuple):  # a tuple: one END after the other
            parts = reply if isinstance(reply, tuple) else (reply,)
            line.pending.extend(Late(part, 0.0) for part in parts)
        return len(data), self.handle_return_value(session, StatusCode.success)

    def read(self, session: Any, count: int) -> Any:
        name, attributes = self._sessions[session]
        line, timeout_s = self.lines[name], attributes[ResourceAttribute.timeout_value] / 1000
        if not line.pending or line.pending[0].after_s > timeout_s:
            return self._timed_out(session, line, timeout_s)
        reply = line.pending.popleft()
        self.clock.seconds += reply.after_s
        end = len(reply.reply)
        status = StatusCode.success
        mark = bytes([attributes.get(ResourceAttribute.termchar, 10)])
        if attributes[ResourceAttribute.termchar_enabled] and mark in reply.reply:
            end, status = reply.reply.index(mark) + 1, StatusCode.success_termination_character_read
        elif name.endswith("SOCKET"):  # a stream has no END
            status = StatusCode.error_timeout
        if end > count or (status < 0 and end == count):
            end, status = count, StatusCode.success_max_count_read
        if reply.reply[end:]:
            line.pending.appendleft(Late(reply.reply[end:], 0.0))
        return reply.reply[:end], self.handle_return_value(session, status)

    def _timed_out(self, session: Any, line: Line, timeout_s: float) -> Any:
        self.clock.seconds += timeout_s
        for reply in line.pending:
            reply.after_s -= timeout_s
        return b"", self.handle_return_value(session, StatusCode.error_timeout)


class Bench:
    """Scripted instruments on one library of their own."""

    numbers = itertools.count(1)

    def __init__(self) -> None:
        self.clock = StillClock()
        self.library_name = f"bench {next(self.numbers)}@scripted"
        library = open_visa_library(self.library_name)
        assert isinstance(library, ScriptedLibrary)
        self.library, library.clock = library, self.clock

    def connection(self, resource: str, name: str = "meter", timeout_s: float = 2.0) -> Connection:
        self.line(resource)
        return Connection(name, resource, self.library_name, timeout_s, self.clock)

    def line(self, resource: str) -> Line:
        return self.library.lines.setdefault(str(rname.ResourceName.from_string(resource)), Line())

    def unplug(self, resource: str) -> None:
        """Nobody is there any more, until the next `script`."""
        del self.library.lines[str(rname.ResourceName.from_string(resource))]

    def script(self, resource: str, *exchanges: tuple[str, object], end: str = "\n") -> Line:
        """Add message and reply (text, bytes, several bytes, `Late`, a status or exception, None) to a script."""
        line = self.line(resource)
        for message, reply in exchanges:
            said = f"{reply}{end}".encode("latin-1") if isinstance(reply, str) else reply
            line.script.append((f"{message}{end}".encode("latin-1"), said))
        return line

    def late(self, reply: str, after_s: float) -> Late:
        return Late(f"{reply}\n".encode(), after_s)

    def greet(self, resource: str, identity: str = "Test bay,meter,X-1,1.0") -> Line:
        """What `open` says and hears."""
        return self.script(resource, ("*CLS", None), ("SYST:ERR?", NO_ERROR), ("*IDN?", identity))

    def known_again(self, resource: str, identity: str = "Test bay,meter,X-1,1.0") -> Line:
        """What is asked on a fresh connection in the middle of a run."""
        return self.script(resource, ("*IDN?", identity))

    def accepted(self, resource: str, *messages: str) -> Line:
        """Messages that the instrument takes without fault."""
        return self.script(resource, *((message, None) for message in messages), ("SYST:ERR?", NO_ERROR))


@pytest.fixture
def bench(monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    """A bench; afterwards every script must have been played to its end."""
    module = ModuleType("pyvisa_scripted")
    module.WRAPPER_CLASS = ScriptedLibrary  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "pyvisa_scripted", module)
    bench = Bench()
    yield bench
    for name, line in bench.library.lines.items():
        assert not line.faults, f"{name}: {line.faults}"
        assert not line.script, f"{name}: never asked {[sent for sent, _ in line.script]}"
