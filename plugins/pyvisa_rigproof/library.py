"""The VISA library: handles, statuses and errors, as PyVISA expects them of a backend.

Every status goes through `handle_return_value`: that is what raises errors and feeds `last_status`.
"""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING, Any, NoReturn

from pyvisa import constants, errors, rname
from pyvisa.constants import BufferOperation, StatusCode
from pyvisa.highlevel import VisaLibraryBase
from pyvisa.typing import VISAEventContext, VISARMSession, VISASession
from pyvisa.util import LibraryPath

from pyvisa_rigproof.session import Session, carries_end

if TYPE_CHECKING:
    from rigproof_twin.registry import Bench

_DISCARDS_INPUT = (
    BufferOperation.discard_read_buffer
    | BufferOperation.discard_read_buffer_no_io
    | BufferOperation.discard_receive_buffer
    | BufferOperation.discard_receive_buffer2
)


class RigLibrary(VisaLibraryBase):
    """A simulated rig as a VISA library; the library path is the token of its bench."""

    @staticmethod
    def get_library_paths() -> tuple[LibraryPath, ...]:
        """A path for `@rigproof` without a token, so that opening it says what is missing."""
        return (LibraryPath("unnamed"),)

    @staticmethod
    def get_debug_info() -> dict[str, str]:
        """For PyVISA's list of backends."""
        return {"Purpose": "simulated strain-gauge rigs of rigproof, in this process"}

    def _init(self) -> None:
        from rigproof_twin.wire import Ending

        self._handles = count(1)  # 0 is falsy to PyVISA; its other backends draw from the global random stream
        self._sessions: dict[int, Session] = {}
        self._managers: set[int] = set()
        self._statuses = {
            Ending.END: StatusCode.success,
            Ending.STOP: StatusCode.success_termination_character_read,
            Ending.COUNT: StatusCode.success_max_count_read,
            Ending.TIMEOUT: StatusCode.error_timeout,
            Ending.LOST: StatusCode.error_connection_lost,
        }

    # Managers and sessions

    def open_default_resource_manager(self) -> tuple[VISARMSession, StatusCode]:
        """A handle for the manager; `UsageError` when the token names no bench of this process."""
        self._bench()
        handle = VISARMSession(next(self._handles))
        self._managers.add(handle)
        return handle, self.handle_return_value(handle, StatusCode.success)

    def list_resources(self, session: VISARMSession, query: str = "?*::INSTR") -> tuple[str, ...]:
        """Canonical names of the instruments that match `query`; sockets are not `INSTR`."""
        found = rname.filter(map(rname.to_canonical_name, self._bench().instruments), query)
        self.handle_return_value(session, StatusCode.success)
        return found

    def open(
        self,
        session: VISARMSession,
        resource_name: str,
        access_mode: constants.AccessModes = constants.AccessModes.no_lock,
        open_timeout: int = constants.VI_TMO_IMMEDIATE,  # noqa: ARG002  a simulated line is there at once
    ) -> tuple[VISASession, StatusCode]:
        """A session with one instrument. Locks are not simulated."""
        if session not in self._managers:
            self._fail(session, StatusCode.error_invalid_object)
        if access_mode != constants.AccessModes.no_lock:
            self._fail(session, StatusCode.error_nonsupported_operation)
        try:
            name = rname.parse_resource_name(resource_name)
        except rname.InvalidResourceName:
            self._fail(session, StatusCode.error_invalid_resource_name)
        bench = self._bench()
        names = {rname.to_canonical_name(known): known for known in bench.instruments}
        if str(name) not in names:
            self._fail(session, StatusCode.error_resource_not_found)
        try:
            exchange = bench.connect(names[str(name)], carries_end(name))
        except ConnectionRefusedError:
            self._fail(session, StatusCode.error_resource_not_found)
        handle = VISASession(next(self._handles))
        self._sessions[handle] = Session(name, exchange, bench.lock, session)
        return handle, self.handle_return_value(handle, StatusCode.success)

    def close(self, session: VISASession | VISARMSession | VISAEventContext) -> StatusCode:
        """Close a resource, or a manager with all its resources."""
        if session in self._managers:
            self._managers.discard(session)
            self._sessions.clear()
        elif self._sessions.pop(session, None) is None:
            self._fail(session, StatusCode.error_invalid_object)
        return self.handle_return_value(session, StatusCode.success)

    # Messages

    def write(self, session: VISASession, data: bytes) -> tuple[int, StatusCode]:
        """Hand bytes to the instrument."""
        at = self._session(session)
        with at.lock:
            at.exchange.write(data, at.sends_end)
        return len(data), self.handle_return_value(session, StatusCode.success)

    def read(self, session: VISASession, count: int) -> tuple[bytes, StatusCode]:
        """Read up to `count` bytes; a time-out lets the rig's clock run for as long, and its note says why."""
        at = self._session(session)
        with at.lock:
            data, ending = at.exchange.read(count, at.stop, at.patience_s)
        try:
            return data, self.handle_return_value(session, self._statuses[ending])
        except errors.VisaIOError as error:
            error.add_note(f"simulated: {at.exchange.silence}")
            raise

    def clear(self, session: VISASession) -> StatusCode:
        """Device clear on a bus; on a stream, forget what has come in."""
        at = self._session(session)
        with at.lock:
            if at.is_bus:
                at.exchange.clear()
            else:
                at.exchange.take_ready()
        return self.handle_return_value(session, StatusCode.success)

    def flush(self, session: VISASession, mask: BufferOperation) -> StatusCode:
        """Forget what has come in on a stream, if `mask` says so; nothing else is buffered on this side."""
        at = self._session(session)
        if mask & _DISCARDS_INPUT and not at.is_bus:
            with at.lock:
                at.exchange.take_ready()
        return self.handle_return_value(session, StatusCode.success)

    def read_stb(self, session: VISASession) -> tuple[int, StatusCode]:
        """The status byte by serial poll; a stream has none."""
        at = self._session(session)
        if not at.is_bus:
            self._fail(session, StatusCode.error_nonsupported_operation)
        with at.lock:
            return at.exchange.status_byte(), self.handle_return_value(session, StatusCode.success)

    # Attributes

    def get_attribute(
        self,
        session: VISASession | VISARMSession | VISAEventContext,
        attribute: constants.ResourceAttribute | constants.EventAttribute,
    ) -> tuple[Any, StatusCode]:
        """An attribute of a resource."""
        value, status = self._session(session).get(attribute)
        return value, self.handle_return_value(session, status)

    def set_attribute(
        self, session: VISASession, attribute: constants.ResourceAttribute, attribute_state: Any
    ) -> StatusCode:
        """Set an attribute of a resource."""
        return self.handle_return_value(session, self._session(session).set(attribute, attribute_state))

    # Events and locks: none are simulated, but PyVISA switches events off whenever it closes a resource

    def disable_event(self, session: VISASession, *_: Any, **__: Any) -> StatusCode:
        """No event is ever enabled."""
        return self.handle_return_value(session, StatusCode.success_event_already_disabled)

    def discard_events(self, session: VISASession, *_: Any, **__: Any) -> StatusCode:
        """No event ever waits."""
        return self.handle_return_value(session, StatusCode.success_queue_already_empty)

    def _refuse(self, session: VISASession, *_: Any, **__: Any) -> NoReturn:
        self._fail(session, StatusCode.error_nonsupported_operation)

    enable_event: Any = _refuse
    install_handler: Any = _refuse
    wait_on_event: Any = _refuse
    lock: Any = _refuse
    unlock: Any = _refuse
    assert_trigger: Any = _refuse

    # What all of them use

    def _bench(self) -> Bench:
        from rigproof_twin.registry import find

        return find(str(self.library_path))

    def _session(self, handle: int) -> Session:
        try:
            return self._sessions[handle]
        except KeyError:
            self._fail(handle, StatusCode.error_invalid_object)

    def _fail(self, handle: Any, status: StatusCode) -> NoReturn:
        self.handle_return_value(handle, status)
        raise AssertionError(f"{status!r} is no error")
