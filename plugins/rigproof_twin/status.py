"""What an instrument tells about itself: error queue, event registers, status byte.

IEEE 488.2-1992, 11, and SCPI-1999, volume 2, 21; numbers, texts and clauses from memory.
"""

from __future__ import annotations

from collections import deque

# SCPI-1999, volume 2, 21.8: the numbers and their texts.
ERRORS = {
    0: "No error",
    -100: "Command error",
    -101: "Invalid character",
    -102: "Syntax error",
    -104: "Data type error",
    -108: "Parameter not allowed",
    -109: "Missing parameter",
    -112: "Program mnemonic too long",
    -113: "Undefined header",
    -121: "Invalid character in number",
    -123: "Exponent too large",
    -124: "Too many digits",
    -138: "Suffix not allowed",
    -148: "Character data not allowed",
    -151: "Invalid string data",
    -158: "String data not allowed",
    -168: "Block data not allowed",
    -171: "Invalid expression",
    -178: "Expression data not allowed",
    -221: "Settings conflict",
    -222: "Data out of range",
    -224: "Illegal parameter value",
    -350: "Queue overflow",
    -363: "Input buffer overrun",
    -410: "Query INTERRUPTED",
    -420: "Query UNTERMINATED",
    -430: "Query DEADLOCKED",
    -440: "Query UNTERMINATED after indefinite response",
}

QUEUE_LENGTH = 20
TEXT_LENGTH = 255  # SCPI-1999, volume 2, 21.8.1

# Standard event status register, IEEE 488.2, 11.5.1.1
OPERATION_COMPLETE, QUERY, DEVICE, EXECUTION, COMMAND, POWER_ON = 1, 4, 8, 16, 32, 128
_CLASS = {1: COMMAND, 2: EXECUTION, 3: DEVICE, 4: QUERY}  # by the hundreds of the error number

# Status byte, IEEE 488.2, 11.2 and SCPI-1999, volume 1, 9
ERROR_QUEUE, MESSAGE_AVAILABLE, EVENT_SUMMARY, MASTER_SUMMARY = 4, 16, 32, 64


class ScpiError(Exception):
    """A message unit that is not carried out; ends in the error queue, never in Python above the wire."""

    def __init__(self, number: int, detail: str = "") -> None:
        self.number = number
        self.detail = detail
        super().__init__(f"{number} {ERRORS[number]} {detail}")


class Status:
    """Error queue and registers of one instrument."""

    def __init__(self) -> None:
        self._queue: deque[tuple[int, str]] = deque()
        self._events = POWER_ON
        self.event_enable = 0
        self.service_enable = 0

    def report(self, number: int, detail: str = "") -> None:
        """Queue an error and set its event bit. A full queue keeps its oldest and says so at its end (21.8.1)."""
        self._events |= _CLASS[-number // 100]
        if len(self._queue) < QUEUE_LENGTH:
            self._queue.append((number, detail))
        else:
            self._queue[-1] = (-350, "")
            self._events |= DEVICE

    def next_error(self) -> str:
        """Take the oldest error: number and quoted text, the detail after a semicolon."""
        number, detail = self._queue.popleft() if self._queue else (0, "")
        text = f"{ERRORS[number]};{_printable(detail)}" if detail else ERRORS[number]
        return f'{number},"{text[:TEXT_LENGTH]}"'

    def complete(self) -> None:
        """All that was asked for is done (*OPC)."""
        self._events |= OPERATION_COMPLETE

    def take_events(self) -> int:
        """Read and clear the standard event status register (*ESR?)."""
        events, self._events = self._events, 0
        return events

    def clear(self) -> None:
        """*CLS: forget errors and events, keep the masks."""
        self._queue.clear()
        self._events = 0

    def byte(self, message_available: bool) -> int:
        """The status byte with its master summary (*STB?)."""
        byte = ERROR_QUEUE * bool(self._queue) | MESSAGE_AVAILABLE * message_available
        byte |= EVENT_SUMMARY * bool(self._events & self.event_enable)
        return byte | MASTER_SUMMARY * bool(byte & self.service_enable)


def _printable(text: str) -> str:
    """`text` as it may stand inside double quotes on the wire."""
    return "".join(c if " " <= c <= "~" and c != '"' else "." for c in text)
