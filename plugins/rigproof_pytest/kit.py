"""What every contract test works with: a driver, a peer, a clock, and advice where a promise is broken."""

from __future__ import annotations

import math
import time
import traceback
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from types import UnionType
from typing import Any, ClassVar, NoReturn, TypeVar

import pytest
from pydantic import ValidationError

from rigproof.errors import InstrumentError
from rigproof.instruments import (
    Connection,
    Driver,
    Excites,
    Identity,
    Loads,
    Reads,
    Rotates,
    Settings,
    Shunts,
    TestsInsulation,
)
from rigproof.people import NOBODY
from rigproof.quantities import parse
from rigproof.simulation import StandIn

from .clock import KitClock
from .faults import EMPTY, GARBAGE, Fault
from .helper import Helper
from .peer import HOST, Exchange, Instrument, Peer, Standing
from .told import content, dialogue, names, shown, unread
from .watch import Hangs, forbid_sleep, limited

T = TypeVar("T")
F = TypeVar("F", bound=Callable[..., object])
Action = Callable[[Any], object]

NAME = "instrument under test"
INSULATION_V = 10.0
STAYS = 300  # times that an error which stays is told: far more than any instrument holds
READ_IT = "read it (`ask`, not `write`), and look at what it says"
GRACE_S = 1.0  # real seconds that a call may take beyond its timeouts
_NO_LOOP = "give self.connection.timeout_s to the line, and let no loop wait for ever"
_STATED = (
    "a quantity is a number with a unit of its kind, and `measures` is one of the kinds",
    'correct what is stated; displacement is a "length", weight a "force" or a "mass"',
)


def needs(ability: type | UnionType) -> Callable[[F], F]:
    """Mark a contract test as one for drivers with this ability only."""

    def mark(test: F) -> F:
        test.needs = ability  # type: ignore[attr-defined]
        return test

    return mark


def by_hand(test: F) -> F:
    """Mark a contract test as one for drivers that ask a person, too, which have no line."""
    test.by_hand = True  # type: ignore[attr-defined]
    return test


def advise(place: str, value: str, rule: str, remedy: str) -> NoReturn:
    """Fail with what a driver's author needs to know, and without a traceback of the kit or what it has caught."""
    raise pytest.fail.Exception(f"{place}: {value}\n  rule: {rule}\n  mend: {remedy}", pytrace=False) from None


class Kit:
    """What the author of a driver states, and the tools of the contract tests. Inherit `DriverContract`, not this."""

    __test__ = False

    driver: ClassVar[type[Driver]]
    settings: ClassVar[Mapping[str, object]] = {}  # as under `settings:` in rig.yaml
    identity: ClassVar[Identity]  # what `open` gives for the simulated instrument
    inputs: ClassVar[Sequence[int]] = (1,)
    shows: ClassVar[Mapping[int, str]] = {}  # what the healthy instrument reads at each input, with a unit
    measures: ClassVar[str] = ""  # kind of the readings, such as "force"
    readings: ClassVar[Mapping[str | bytes, str]] = {}  # what the instrument sends: what it means; the first is healthy
    overloads: ClassVar[Sequence[str | bytes]] = ()  # what it sends in place of a reading above its range
    refusals: ClassVar[Sequence[str | bytes]] = ()  # what it sends in place of a reading that it cannot give
    sends: ClassVar[
        Sequence[str | bytes]
    ] = ()  # what the manual has sent before the first reading, for these `settings`
    # other settings, and what must be sent for them
    otherwise: ClassVar[tuple[Mapping[str, object], Sequence[str | bytes]]] = ({}, ())
    busy: ClassVar[Sequence[str | bytes]] = ()  # what it sends in place of a reading as long as it is not ready
    error_queue: ClassVar[Mapping[str, Sequence[str]]] = {}  # the question for the queue: two entries it may hold
    # the question that tells all errors and clears: a reply with some, or several with one each
    error_register: ClassVar[Mapping[str, str | Sequence[str]]] = {}
    excitation: ClassVar[str] = ""  # the voltage that `settings` ask for; "" where they do not
    rise: ClassVar[tuple[str, str]] = ("", "")  # a load and a rate for `rise_to`, such as ("10 bar", "0.5 bar/s")
    load: ClassVar[str] = "gauge pressure"  # kind of that load
    ramps: ClassVar[bool] = True  # False: a source that takes no rate
    moving: ClassVar[Mapping[str, str]] = {}  # a question, and the reply to it while the load is on its way
    valve: ClassVar[bool] = True  # False: a source without a valve, whose `isolate` does nothing
    angles: ClassVar[tuple[str, str]] = ("120°", "240°")  # two that `rotate_to` can turn to
    greeting: ClassVar[str | bytes] = ""  # the line that it sends by itself after each connection
    message_end: ClassVar[str] = "\n"  # "" for packets without a terminator
    reply_end: ClassVar[str] = "\n"
    resource: ClassVar[str] = f"TCPIP::{HOST}::{{port}}::SOCKET"
    visa_library: ClassVar[str] = "@py"
    timeout_s: ClassVar[float] = 0.4

    clock: KitClock  # the run's: of the driver, and of a simulated instrument that takes its time
    peer: Peer
    patch: pytest.MonkeyPatch
    slower: float = 1.0  # by how much timeouts are longer than stated
    late: bool = False  # it was real time that failed the test
    overtaken: bool = False  # a timeout was over when the machine let the instrument answer
    sleeps: list[str]
    made: list[Any]
    _tried: object = None  # of the class: True: it opens as stated; a test: the first that could not be tried

    def instrument(self) -> Instrument | StandIn | Mapping[str, str | bytes]:
        """The healthy simulated instrument, a new one for every test: it, a stand-in, or messages and replies."""
        raise NotImplementedError

    @pytest.fixture(autouse=True)
    def _bench(self) -> Iterator[None]:
        """A peer and a clock for each test; nothing may sleep."""
        self.set_up()
        yield
        self.take_down()

    def renew(self, slower: float) -> None:
        """A fresh bench on which every timeout is `slower` times as long, up to four times what is stated."""
        self.take_down()
        self.slower, self.late, self.overtaken = min(4.0, self.slower * slower), False, False
        self.set_up()

    @property
    def limit_s(self) -> float:
        """The connection's timeout: what is stated, or longer on a busy machine."""
        return self.timeout_s * self.slower

    @property
    def patience_s(self) -> float:
        """Real seconds after which a driver hangs: more than a handful of timeouts."""
        return 4.0 + 5 * self.limit_s

    @property
    def ends(self) -> tuple[str, str]:
        """Of messages and replies."""
        return self.message_end, self.reply_end

    def set_up(self, ends: tuple[str, str] | None = None) -> None:
        """A peer and a clock; with other terminators than those stated, if `ends` are given."""
        self.clock = KitClock()
        made = self.instrument()
        if isinstance(made, StandIn):
            instrument: Instrument = Standing(made)
        else:
            instrument = made if isinstance(made, Instrument) else Instrument(made)
        message_end, reply_end = (end.encode("latin-1") for end in ends or self.ends)
        self.peer = Peer(instrument, message_end, reply_end, content(self.greeting))
        self.patch = pytest.MonkeyPatch()
        self.sleeps = forbid_sleep(self.driver, self.patch)
        self.made = []

    def take_down(self) -> None:
        """Close what a test has opened."""
        for driver in self.made:  # a test that failed may have left its own open
            self.shut(driver)
        self.peer.close()
        self.patch.undo()

    # -- drivers ------------------------------------------------------------------------------------------------------

    def make(self, settings: Mapping[str, object] | None = None) -> Any:
        """A driver for the peer, not yet open; with `settings` other than those of the class, if they are given."""
        resource = self.resource.format(port=self.peer.port)
        person = Helper(self.peer) if self.driver.asks_a_person else NOBODY
        where = Connection(NAME, resource, self.visa_library, self.limit_s, self.clock, person=person)
        return self.make_at(where, settings)

    def make_at(self, where: Connection, settings: Mapping[str, object] | None = None) -> Any:
        """A driver for what is `where`, told what its channels read, as a rig tells it."""
        reads = dict.fromkeys(self.inputs, self.measures) if self.measures else {}
        driver = self.driver(replace(where, reads=reads), self.their_settings(settings))
        self.made.append(driver)
        return driver

    def their_settings(self, settings: Mapping[str, object] | None = None) -> Settings:
        """`settings`, those of the class unless given, read as rig.yaml is."""
        stated = dict(self.settings if settings is None else settings)
        try:
            return self.driver.settings_model.model_validate(_as_written(stated))
        except ValidationError as error:
            wrong = "; ".join(f"{'.'.join(map(str, one['loc']))}: {one['msg']}" for one in error.errors())
            advise(
                type(self).__name__,
                f"settings = {stated}: {wrong}",
                f"settings stand as in rig.yaml, read by {self.driver.settings_model.__name__}",
                "correct them, or its fields; a key has spaces where a field has underscores",
            )

    @contextmanager
    def opened(self) -> Iterator[Any]:
        """A driver that is open; closed on the way out."""
        driver = self.make()
        try:
            self.well("open()", driver.open)
            yield driver
        finally:
            self.shut(driver)

    def shut(self, driver: Any) -> None:
        """Close a driver in passing: what `close` must do is the matter of its own tests."""
        with suppress(Exception):
            driver.close()

    def place(self, call: str) -> str:
        """A call as messages name it."""
        return f"{self.driver.__name__}.{call}"

    def too_late(self, place: str, value: str, rule: str, remedy: str) -> NoReturn:
        """`advise` where real time told it: longer timeouts would not judge it any better."""
        self.late = True
        advise(place, value, rule, remedy)

    def well(self, call: str, action: Callable[[], T]) -> T:
        """The result of something that must succeed with a healthy instrument."""
        began_s = time.monotonic()
        value, error = self.attempt(call, action, "while the instrument was well")
        if error is not None:
            ended_s, remedy = time.monotonic(), self.what_to_compare(str(error))
            self.overtaken = ended_s - began_s > 0.9 * self.limit_s and self.peer.held_up(ended_s, self.limit_s)
            advise(
                self.place(call),
                f"raised InstrumentError while the instrument was well: {error}",
                "a healthy instrument is read without complaint",
                remedy,
            )
        return value  # type: ignore[return-value]

    def attempt(
        self, call: str, action: Callable[[], T], when: str, loop: str = _NO_LOOP
    ) -> tuple[T | None, InstrumentError | None]:
        """Result or `InstrumentError`; whatever else comes out of a driver breaks the contract.

        `loop`: the remedy where it does not come back.
        """
        try:
            with limited(self.patience_s):
                done = action()
            self.expect_sound_instrument()
            return done, None
        except InstrumentError as error:
            self.expect_sound_instrument()
            return None, error
        except Hangs:
            self.expect_sound_instrument()
            self.too_late(
                self.place(call),
                f"had not come back after {self.patience_s:g} s {when}",
                f"each exchange ends within the connection's timeout, here {self.limit_s:g} s; patience beyond it is "
                "waited on connection.clock, where it costs no real time",
                loop,
            )
        except Exception as error:
            self.expect_sound_instrument()
            advise(
                self.place(call),
                f"raised {type(error).__name__}: {error} {when} (at {_where(error)})",
                "every failure leaves a driver as InstrumentError",
                f"catch {type(error).__name__} where the reply is read and `raise InstrumentError(self.connection.name,"
                f' f"{{question}}: {{what came}}; {{what must come}}; {{what to do}}") from error`',
            )

    def expect_sound_instrument(self) -> None:
        """Tell a defect of the author's simulated instrument as one; once for each class, for every test would fail."""
        if self.peer.defect:
            type(self)._tried = self
            advise(
                f"instrument() of {type(self).__name__}",
                f"asked {self.peer.defect}",
                "a simulated instrument answers every message, or gives None for silence",
                "mend it there; the driver has no part in this",
            )

    def whatever_comes(self, action: Callable[[], object]) -> None:
        """Do it; whether it does well is the matter of other tests."""
        try:
            with limited(self.patience_s):
                action()
        except (Exception, Hangs):
            return

    def timed(self, action: Callable[[], object]) -> tuple[float, float]:
        """Seconds that `action` waits on the clock, and real ones, which a busy machine stretches."""
        waited_s, began = self.clock.waited(), time.monotonic()
        action()
        return self.clock.waited() - waited_s, time.monotonic() - began

    # -- what the driver can do ---------------------------------------------------------------------------------------

    def value(self, driver: Any, channel_input: int | None = None) -> float:
        """One reading of an input, the first unless another is named."""
        number = self.inputs[0] if channel_input is None else channel_input
        if issubclass(self.driver, TestsInsulation):
            return float(driver.insulation_ohm(number, INSULATION_V, 0.0))
        return float(driver.read([number], 1, 0.0)[0, 0])

    @property
    def healthy(self) -> bytes:
        """What the healthy instrument sends for a reading: the first of `readings`; b"" where none is stated."""
        return content(next(iter(self.readings), b""))

    @property
    def value_call(self) -> str:
        """How `value` was called, for messages."""
        return self.value_call_of(self.inputs[0])

    def value_call_of(self, number: int) -> str:
        """The same of any input."""
        if issubclass(self.driver, TestsInsulation):
            return f"insulation_ohm({number}, {INSULATION_V:g}, 0.0)"
        return f"read([{number}], 1, 0.0)"

    def rotates(self) -> bool:
        """Whether the driver turns the part, with these settings."""
        return issubclass(self.driver, Rotates) and self.driver.rotates(self.their_settings())

    def load_and_rate(self) -> tuple[float, float]:
        """`rise` in base units."""
        if not all(self.rise):
            advise(
                type(self).__name__,
                "rise is not stated",
                "a driver that loads is tried at a load and a rate",
                'write rise = ("10 bar", "0.5 bar/s") and, for another load than pressure, load = "force"',
            )
        rates = {"gauge pressure": "pressure rate", "force": "force rate", "torque": "torque rate"}
        if self.load not in rates:
            advise(
                type(self).__name__,
                f"load = {self.load!r}",
                f"a load is one of {', '.join(rates)}",
                "write one of these",
            )
        return self.stated("rise", self.rise[0], self.load), self.stated("rise", self.rise[1], rates[self.load])

    def stated(self, what: str, text: str, kind: str) -> float:
        """A quantity that the author wrote, in its base unit."""
        try:
            return parse(text, kind).value
        except ValueError as error:
            advise(type(self).__name__, f"{what}: {error}", *_STATED)

    @property
    def faults(self) -> dict[str, Sequence[str]]:
        """The questions for errors, each with what it tells of a queue or register that holds some."""
        return {**self.error_queue, **{question: replies[:1] for question, replies in self.registers.items()}}

    @property
    def registers(self) -> dict[str, Sequence[str]]:
        """`error_register` with all replies that are stated."""
        return {question: (told,) if isinstance(told, str) else told for question, told in self.error_register.items()}

    def fault_stays(self) -> None:
        """From here on the instrument tells the same error, as long as a driver may ask."""
        for question, (entry, *_) in self.faults.items():
            self.peer.say_instead(question.encode("latin-1"), [entry.encode("latin-1")] * STAYS)

    def actions(self) -> dict[str, Action]:
        """Everything the driver's abilities promise, by the call as messages show it; not what leads to safety."""
        first, found = self.inputs[0], dict[str, Action]()
        if self.faults:
            found["errors()"] = lambda driver: driver.errors()
        if issubclass(self.driver, Reads | TestsInsulation):
            found[self.value_call] = self.value
        if issubclass(self.driver, Excites):
            found[f"excitation_v({first})"] = lambda driver: driver.excitation_v(first)
        if issubclass(self.driver, Shunts):
            found[f"shunt({first}, True)"] = lambda driver: driver.shunt(first, True)
        if self.rotates():  # before any load
            angle_rad = self.stated("angles", self.angles[0], "angle")
            found[f"rotate_to({angle_rad:.4g})"] = lambda driver: driver.rotate_to(angle_rad)
        if issubclass(self.driver, Loads):
            load, rate = self.load_and_rate()
            found[f"rise_to({load:g}, {rate:g})"] = lambda driver: driver.rise_to(load, rate)
            found["settled()"] = lambda driver: driver.settled()
            if self.valve:
                found["isolate(True)"] = lambda driver: driver.isolate(True)
        return found

    # -- faults -------------------------------------------------------------------------------------------------------

    def garbage(self) -> Sequence[Fault]:
        """What may come in place of a reply; without terminators an empty reply is silence."""
        return (*GARBAGE, EMPTY) if self.reply_end else GARBAGE

    def spoiled(
        self, call: str, action: Action, fault: Fault, before: Action | None = None
    ) -> Iterator[tuple[str, InstrumentError | None, Any]]:
        """Let `fault` happen to one reply of `action` after the other: (the case in words, its error, the driver).

        `before`: what the driver has done by then; the action itself, so that only what it says every time is spoiled.
        """
        for number in range(64):
            with self.opened() as driver:
                if before is not None:
                    self.well(call, lambda: before(driver))
                mark = len(self.peer.said)
                self.peer.spoil(fault, number)
                attempted = f"where reply {number + 1} {fault.name}"
                _, error = self.attempt(call, lambda: action(driver), attempted)
                if not self.peer.spoiled():
                    self.peer.heal()
                    return
                yield f"where the reply to {self.asked(mark, number)} {fault.name}", error, driver

    def asked(self, mark: int, number: int) -> str:
        """The message whose reply was the one `number` after `mark`."""
        answered = [exchange for exchange in self.peer.said[mark:] if exchange.reply]
        return shown(answered[number].message) if number < len(answered) else "a message"

    def heard(self, action: Callable[[], object]) -> list[Exchange]:
        """What was said and answered during `action`."""
        mark = len(self.peer.said)
        action()
        return [exchange for exchange in self.peer.said[mark:] if exchange.reply]

    def what_to_compare(self, said_of_it: str = "") -> str:
        """A remedy for a healthy line that the driver did not take, or did not get; `said_of_it`: its complaint."""
        if (never := self._never_connected()) is not None:
            return never
        self.peer.hear_out()
        last = self.peer.said[-1] if self.peer.said else None
        if names(said_of_it, content(self.greeting)):
            return (
                f"{shown(content(self.greeting))} comes unasked after each connection: hear it before the first "
                "question, `TextLine(…, greeting=…)`"
            )
        if last is None and self.peer.opened:
            return (
                f"no whole message came: let the driver end its messages with message_end, here {self.message_end!r}, "
                "or correct what is stated"
            )
        if last is not None and not last.reply:
            return (
                f"instrument() of {type(self).__name__} has no reply to {shown(last.message)}: write it there as in "
                "the manual, or correct what the driver asks"
            )
        if (kept := unread(self.peer.said, said_of_it)) is not None:
            return (
                f"the reply {shown(kept.reply)} to {shown(kept.message)} was not read, and was taken for the next "
                f"one: {READ_IT}"
            )
        greeted = f"{shown(content(self.greeting))} came unasked after connecting, then " if self.greeting else ""
        said = f"compare what was said: {greeted}{dialogue(self.peer.said)}"
        return f"{said}; each reply ended with reply_end, here {self.reply_end!r}"

    def _never_connected(self) -> str | None:
        """The remedy where the instrument was there and the driver did not come to it; None where it did."""
        if self.driver.asks_a_person:
            return None
        if not self.peer.opened:
            there = self.resource.format(port=self.peer.port)
            return (
                f"nothing connected to {there}, where the instrument is: connect to self.connection.resource, and keep "
                "the line on the object, not on the class or module"
            )
        if self.peer.deserted:
            return "the line had been lost, and nothing connected again: let open() and resume() connect anew"
        return None


def same(one: float, other: float) -> bool:
    """True for one and the same reading, as far as its digits go."""
    return math.isclose(one, other, rel_tol=1e-9) or (math.isnan(one) and math.isnan(other))


def _where(error: Exception) -> str:
    last = traceback.extract_tb(error.__traceback__)[-1]
    return f"{last.filename}:{last.lineno}"


def _as_written(value: object) -> object:
    """As rig.yaml gives it, where every value is text until its key says what it is."""
    if isinstance(value, Mapping):
        return {str(key): _as_written(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_as_written(each) for each in value]
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value) if isinstance(value, int | float) else value
