"""The other end of the line: a healthy instrument, as its driver's author describes it, on a port of the loopback."""

from __future__ import annotations

import socket
import threading
import time
import traceback
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass

from rigproof.people import Question
from rigproof.simulation import StandIn

from .faults import Fault
from .watch import OURS

HOST = "127.0.0.1"
_SENT_WITHIN_S = 30.0  # on a machine that does anything at all
_HEARD_WITHIN_S = 2.0  # a thread of the peer takes what lies there
_PATIENT = 64  # times that a person answers one question
_THINKS_S = 0.05  # how long the next reply takes behind a late one: a driver that does not look reads the late one


class Instrument:
    """A simulated, healthy instrument: inherit and write `answer`, or give a table of messages and replies.

    Messages and replies come without their terminators. A reply is text or bytes; None: the instrument says nothing.
    """

    energized: bool = False  # True while it puts a test voltage on the leads, or a load on the part
    target: float | None = None  # the load it is told to go to, base unit; None where that is not simulated
    rate: float | None = None  # at which it is told to go there, base unit per second; None as long as it is not told
    rotated: float | None = None  # where the part stands, rad from its first position; None where that is not simulated

    def __init__(self, table: Mapping[str, str | bytes] | None = None) -> None:
        self.table = dict(table or {})

    def answer(self, message: str) -> str | bytes | None:
        """The reply to one message."""
        return self.table.get(message)

    def asked(self, question: Question) -> str | None:  # noqa: ARG002  simulated ones use it
        """What a person types who was asked by a driver that asks one, and has done it; None: nobody answers."""
        return None


class Standing(Instrument):
    """A stand-in that a plugin brings for `--simulated`, as the healthy instrument."""

    def __init__(self, stand_in: StandIn) -> None:
        super().__init__()
        self.stand_in = stand_in

    def answer(self, message: str) -> str | bytes | None:
        """What the plugin says."""
        return self.stand_in.answer(message)


@dataclass(frozen=True)
class Exchange:
    """One message and the healthy reply to it, both without terminators; b"" for none."""

    message: bytes
    reply: bytes


class Peer:
    """Serves an instrument, writes down what is said, and spoils replies to order."""

    def __init__(self, instrument: Instrument, message_end: bytes, reply_end: bytes, greeting: bytes = b"") -> None:
        self.instrument = instrument
        self.greeting = greeting  # sent unasked to whoever connects
        self.said: list[Exchange] = []
        self.answered_s, self.took_s = 0.0, 0.0  # when it last did, by the machine's clock, and how long it took for it
        self.instead: dict[bytes, Iterator[bytes]] = {}  # replies to a message that come before the instrument's own
        self.swapped: dict[bytes, bytes] = {}  # replies that become others
        self.nobody = False  # True: no person answers
        self.defect = ""  # of the simulated instrument itself, with its place; "" as long as it answers
        self._asked: Counter[bytes] = Counter()
        self._ends = (message_end, reply_end)
        self._fault: Fault | None = None
        self._countdown = 0
        self._may_go, self._gone = threading.Event(), threading.Event()  # of a reply that is held back
        self._thinks_s = 0.0
        self._came: list[object] = []  # who, by address
        self._lost = -1  # how many had come when the last line was cut; -1 as long as none was
        self._talking: set[socket.socket] = set()
        self._lock = threading.Lock()
        self._closed = threading.Event()
        self._threads: list[threading.Thread] = []
        self._listener: socket.socket | None = None
        self.port = self._listen(0)

    def spoil(self, fault: Fault, number: int = 0) -> None:
        """Let `fault` happen once, to the reply `number` from now (0: the next)."""
        self._thinks_s = 0.0
        self._may_go.set()  # what an earlier fault holds back
        with self._lock:
            self._may_go, self._gone = threading.Event(), threading.Event()
            self._fault, self._countdown = fault, number

    def spoiled(self) -> bool:
        """True when the fault that was ordered has happened."""
        with self._lock:
            return self._fault is None

    def let_late_go(self) -> None:
        """Send the reply that is held back, if one is, and return when it is on the line; then answer slowly."""
        self._thinks_s = _THINKS_S
        self._may_go.set()
        self._gone.wait(_SENT_WITHIN_S)

    def heal(self) -> None:
        """Order no fault any more."""
        self._thinks_s = 0.0
        self._may_go.set()
        with self._lock:
            self._fault = None
            self.instead.clear()

    def say_instead(self, message: bytes, replies: Iterable[bytes]) -> None:
        """Answer `message` with these replies first."""
        with self._lock:
            self.instead[message] = iter(replies)

    def overhear(self, messages: Iterable[bytes]) -> None:
        """What somebody else has the instrument do, at its keys or from another program."""
        with self._lock:
            for message in messages:
                self.instrument.answer(message.decode("latin-1"))

    def typed(self, question: Question) -> str | None:
        """What a person types; None where nobody answers, or has been asked the same too often."""
        message = question.text.encode()
        with self._lock:
            self._asked[message] += 1
            if self.nobody or self._asked[message] > _PATIENT:
                return None
            content = next(self.instead.get(message, iter(())), None)
            try:
                reply = self.instrument.asked(question) if content is None else content.decode()
            except Exception as error:
                self._note(repr(question.label), error)
                return None
            self.said.append(Exchange(message, (reply or "").encode()))
        return reply

    def talking(self) -> int:
        """Connections that are open now."""
        with self._lock:
            return len(self._talking)

    def visited(self) -> int:
        """Connections that were made up to now: they are taken in order, and so all are before one more is."""
        with socket.create_connection((HOST, self.port)) as line:
            while line.getsockname() not in self._came:
                self._closed.wait(0.001)
        return self.opened - 1

    @property
    def opened(self) -> int:
        """Connections that were taken."""
        return len(self._came)

    @property
    def deserted(self) -> bool:
        """Whether nobody has connected since the line was cut."""
        return self._lost == len(self._came)

    def hang_up(self) -> None:
        """Close every connection; new ones are taken."""
        with self._lock:
            talking, self._lost = list(self._talking), len(self._came)
        for line in talking:
            with suppress(OSError):  # the driver may have been quicker
                line.shutdown(socket.SHUT_RDWR)

    def hear_out(self) -> None:
        """Hang up, and return when all that was sent is in `said`: a driver may complain before its last message is."""
        self._may_go.set()
        self.hang_up()  # what has come can still be received
        until = time.monotonic() + _HEARD_WITHIN_S
        while self.talking() and time.monotonic() < until:
            self._closed.wait(0.001)

    def held_up(self, ended_s: float, limit_s: float) -> bool:
        """Whether the machine kept the last answer from a timeout that was over at `ended_s`; not the instrument."""
        return self.answered_s > ended_s - limit_s / 2 and self.took_s < limit_s / 2

    def go_away(self) -> None:
        """Nobody is at the port any more, until `come_back`."""
        listener, self._listener = self._listener, None
        if listener is not None:
            with suppress(OSError):
                listener.shutdown(socket.SHUT_RDWR)
            listener.close()
        self.hang_up()

    def come_back(self) -> None:
        """Be at the same port again."""
        self._listen(self.port)

    def close(self) -> None:
        """Free the port, end the threads; may be called twice."""
        self._closed.set()
        self._may_go.set()
        self.go_away()
        for thread in self._threads:
            thread.join(timeout=2.0)

    def _listen(self, port: int) -> int:
        listener = socket.create_server((HOST, port))
        self._listener = listener
        self._start(self._accept, listener)
        number: int = listener.getsockname()[1]
        return number

    def _start(self, work: object, line: socket.socket) -> None:
        thread = threading.Thread(target=work, args=(line,), daemon=True, name=f"{OURS} peer")  # type: ignore[arg-type]
        self._threads.append(thread)
        thread.start()

    def _accept(self, listener: socket.socket) -> None:
        with suppress(OSError):  # closed: nobody is there any more
            while True:
                line, address = listener.accept()
                line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                with self._lock:
                    self._came.append(address)
                    self._talking.add(line)
                self._start(self._talk, line)

    def _talk(self, line: socket.socket) -> None:
        with line, suppress(OSError):
            if self.greeting:
                line.sendall(self.greeting + self._ends[1])
            waiting = b""
            while data := _receive(line):
                *messages, waiting = _split(waiting + data, self._ends[0])
                if not all(self._reply(line, message) for message in messages):
                    break
        with self._lock:
            self._talking.discard(line)

    def _reply(self, line: socket.socket, message: bytes) -> bool:
        """Answer one message; False to hang up."""
        end = self._ends[1]
        with self._lock:
            content = next(self.instead.get(message, iter(())), None)
            began_s = time.monotonic()
            if content is None:
                try:
                    content = _bytes(self.instrument.answer(message.decode("latin-1")))
                except Exception as error:
                    self._note(repr(message.decode("latin-1")), error)
                    return False
                content = self.swapped.get(content, content)
            self.answered_s, self.took_s = time.monotonic(), time.monotonic() - began_s
            self.said.append(Exchange(message, content))
            fault = self._due() if content else None
            may_go, gone = self._may_go, self._gone
        if fault is None:
            if content:
                self._closed.wait(self._thinks_s)
                line.sendall(content + end)
            return True
        if fault.late_s:
            may_go.wait(fault.late_s)
        with suppress(OSError):  # a driver may rightly have let go of a late line
            line.sendall(fault.change(content, end))
        gone.set()
        return not fault.hangs_up

    def _note(self, asked: str, error: Exception) -> None:
        """Keep the first defect of the author's simulated instrument: the driver cannot be blamed for it."""
        frames = [each for each in traceback.extract_tb(error.__traceback__) if each.filename != __file__]
        own = [each for each in frames if each.filename == frames[0].filename]  # and not the library that it calls
        place = f" (at {own[-1].filename}:{own[-1].lineno})" if own else ""
        self.defect = self.defect or f"{asked}: raised {type(error).__name__}: {error}{place}"

    def _due(self) -> Fault | None:
        """The fault of this reply, if it is its turn."""
        fault = self._fault
        if fault is None:
            return None
        if self._countdown:
            self._countdown -= 1
            return None
        self._fault = None
        return fault


def _receive(line: socket.socket) -> bytes:
    """What has come. Acknowledged at once: a driver that writes twice would else wait 40 ms between (Nagle)."""
    if hasattr(socket, "TCP_QUICKACK"):  # Linux
        line.setsockopt(socket.IPPROTO_TCP, socket.TCP_QUICKACK, 1)
    return line.recv(65_536)


def _split(data: bytes, end: bytes) -> list[bytes]:
    """Complete messages, and last what is still incomplete; without a terminator every packet is a message."""
    return data.split(end) if end else [data, b""]


def _bytes(reply: str | bytes | None) -> bytes:
    if not isinstance(reply, str | bytes | None):
        raise TypeError(f"{reply!r} is no reply: text, bytes, or None for silence")
    return reply.encode("latin-1") if isinstance(reply, str) else reply or b""
