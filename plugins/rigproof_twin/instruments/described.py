"""Simulated instruments that speak by the words of a command map in rig.yaml, read by the names of its fields.

A message that the map does not know is passed over in silence, as simple instruments do; where the map has an error
query, it is answered with a complaint. `*` in a form is answered with one letter.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import Any

import numpy as np

from rigproof.quantities import kind_of
from rigproof_twin.instruments.base import OVERLOAD, SimulatedInstrument
from rigproof_twin.instruments.talk import TalkOnly
from rigproof_twin.interface import Appearance, World, WorldPress, WorldSource
from rigproof_twin.roles import PRESSES
from rigproof_twin.wire import Exchange

ANYTHING = "x"  # what stands where a form takes any text
PERIOD_S = 0.5  # between the lines of an instrument that sends without being asked
COMPLAINT = "unknown message"
NO_NUMBER = "99E36"  # SCPI's infinity, without a decimal point or comma
_PLACES = r"\{([^{}]*)\}"
_NUMBER = r"([+-]?[0-9]+(?:[.,][0-9]+)?)"

Answer = Callable[..., str | None]


class Described(SimulatedInstrument):
    """The part that all maps share: identity, errors, and the table of messages."""

    kind = "described"

    def __init__(self, kind: str, words: Any, world: World, appearance: Appearance, rng: np.random.Generator) -> None:
        super().__init__(world, appearance, rng)
        self.stands_for = kind
        self.words = words
        self._puzzled = False
        self._table: list[tuple[re.Pattern[str], tuple[str, ...], Answer]] = []
        for message in words.at_start:
            self.hears(message, lambda: None)
        if words.identity is not None:
            self.hears(words.identity.ask, self._who)
        if words.error is not None:
            self.hears(words.error.ask, self._complain)

    def connect(self, bus: bool) -> Exchange:
        """A stream begins with its greeting, if it has one."""
        exchange = super().connect(bus)
        for line in () if bus else self.words.greeting:
            exchange.greet(fill(line).encode("latin-1"))
        return exchange

    def hears(self, message: Any, answer: Answer) -> None:
        """From now on a message of this wording is answered so; its places are given to `answer` by name."""
        pattern, places = "", []
        for piece in re.split(r"(\{[^{}]*\})", message.text):
            if re.fullmatch(r"\{[^{}]*\}", piece):
                places.append(piece[1:-1])
                pattern += "([0-9]+)" if piece == "{input}" else _NUMBER
            else:
                pattern += re.escape(piece)
        self._table.append((re.compile(pattern), tuple(places), answer))

    def execute(self, message: bytes, message_available: bool) -> tuple[bytes, float]:  # noqa: ARG002  no status byte
        """Carry out one message by the table."""
        text = message.decode("latin-1")
        self.ready_s = max(self.clock.now(), self.busy_until_s) + self.appearance.latency_s
        replies: list[str] = []
        known: dict[str, str] = {}
        for pattern, places, answer in self._table:
            found = pattern.fullmatch(text)
            if found is None:
                continue
            said = dict(zip(places, found.groups(), strict=True))
            reply = answer(**said)
            replies += [] if reply is None else [reply]
            known |= {"message": text} | said
        if known and not replies:
            replies = self._acknowledgement(known)
        self._puzzled |= not known
        self.busy_until_s = self.ready_s
        return "".join(replies).encode("latin-1"), self.ready_s

    def _acknowledgement(self, known: dict[str, str]) -> list[str]:
        """Of a message, by the first form whose places can be filled; none where the map has no form."""
        forms = [form for form in self.words.acknowledged if set(re.findall(_PLACES, form.text)) <= known.keys()]
        return [fill(forms[0], **known)] if forms else []

    def number(self, text: str) -> float:
        """A number of a message."""
        return float(text.replace(",", "."))

    def sent(self, value: float) -> str:
        """A number of a reply: ten digits, no exponent."""
        text = np.format_float_positional(value, precision=10, fractional=False, trim="-")
        return text.replace(".", ",") if self.words.decimal == "comma" else text

    def in_unit(self, base: float) -> float:
        """A value in base units as the map's number."""
        factor, offset = kind_of(self.words.quantity).units[self.words.unit]
        return (base - float(offset)) / (float(factor) * float(self.words.scale.value))

    def in_base(self, number: float) -> float:
        """The map's number in base units."""
        factor, offset = kind_of(self.words.quantity).units[self.words.unit]
        return number * float(self.words.scale.value) * float(factor) + float(offset)

    def _who(self) -> str:
        look = self.appearance
        return fill(
            self.words.identity.reply,
            **{
                "maker": look.maker,
                "model": look.model,
                "serial number": look.serial_number,
                "firmware": look.firmware,
            },
        )

    def _complain(self) -> str:
        puzzled, self._puzzled = self._puzzled, False
        return COMPLAINT if puzzled else fill(self.words.error.none[0])


class DescribedMeter(Described):
    """Reads temperature, resistance, pressure, force or torque; answers, or sends a line every half second."""

    def __init__(self, kind: str, words: Any, world: World, appearance: Appearance, rng: np.random.Generator) -> None:
        super().__init__(kind, words, world, appearance, rng)
        self._selected = "1"
        for message in words.read.select:
            self.hears(message, self._select)
        if words.read.ask is not None:
            self.hears(words.read.ask, self._answer)

    def connect(self, bus: bool) -> Exchange:
        """One that only talks has an exchange of its own kind."""
        if self.words.read.listen is None:
            return super().connect(bus)
        return TalkOnly(self, self._line, PERIOD_S)

    def _line(self, at_s: float) -> bytes:
        """What it sends at a time."""
        self.ready_s = at_s
        return self._told("1", self.words.read.listen).encode("latin-1")

    def _select(self, **places: str) -> None:
        self._selected = places.get("input", self._selected)

    def _answer(self, **places: str) -> str:
        return self._told(places.get("input", self._selected), self.words.read.reply)

    def _told(self, channel_input: str, form: Any) -> str:
        reading = self.seen(int(channel_input), self._truth(int(channel_input)))
        if abs(reading) >= OVERLOAD:
            words = self.words.read.overload
            return fill(words[0], input=channel_input) if words else fill(form, value=NO_NUMBER, input=channel_input)
        return fill(form, value=self.sent(self.in_unit(reading)), input=channel_input)

    def _truth(self, channel_input: int) -> float:
        if not 1 <= channel_input <= self.appearance.input_count:
            return math.nan
        if self.stands_for == "thermometer":
            return self.world.temperature_c(channel_input)
        if self.stands_for == "ohmmeter":
            return self.world.resistance_ohm(channel_input)
        truths = {"pressure transmitter": self.world.pressure_pa, "volume meter": self.world.volume_m3}
        return truths.get(self.stands_for, self.world.force_n)()


class DescribedSource(Described):
    """Puts pressure, force or torque on the part. The last message of `safe: send` opens the vent, or lets go."""

    def __init__(self, kind: str, words: Any, world: World, appearance: Appearance, rng: np.random.Generator) -> None:
        super().__init__(kind, words, world, appearance, rng)
        source: WorldSource | WorldPress = world.press if kind in PRESSES else world.source
        self._source = source
        factor, _ = kind_of(kind_of(words.quantity).rate).units[words.rate.unit]
        self._rate_unit = float(factor)
        self._hears_all(words.rate.send, self._set)
        self._hears_all(words.target.send, self._set)
        self._hears_last(words.start or words.target.send, lambda **_: source.enable(True))
        self._hears_last(words.safe.send, lambda: source.enable(False))
        states = [(words.safe, lambda: not source.enabled), (words.settled, lambda: not source.settling())]
        if words.isolate is not None:
            valve = world.source  # a press has none, see `survey`
            self._hears_last(words.isolate.send, lambda: valve.connect(False))
            self._hears_last(words.isolate.send_back, lambda: valve.connect(True))
            states.append((words.isolate, lambda: not valve.connected))
        for text in dict.fromkeys(state.ask.text for state, _ in states):  # several states may have one question
            asked = [(state, holds) for state, holds in states if state.ask.text == text]
            self.hears(asked[0][0].ask, partial(agreed, asked))
        if words.rotate is not None:
            self._hears_all(words.rotate.send, self._rotate)
            self.hears(words.rotate.ask, self._rotated)
        if words.rate.ask is not None:
            self.hears(words.rate.ask, self._rate)
        if words.target.ask is not None:
            self.hears(words.target.ask, self._target)

    def _rotate(self, **places: str) -> None:
        if "value" in places:
            self.world.rotate_to(math.radians(self.number(places["value"])))

    def _rotated(self) -> str:
        return fill(self.words.rotate.reply, value=self.sent(math.degrees(self.world.rotated_rad())))

    def _rate(self) -> str:
        source, press = self.world.source, self.world.press
        rate = press.rate_n_per_s if self._source is press else source.rate_pa_per_s
        return fill(self.words.rate.reply, rate=self.sent(rate / self._rate_unit))

    def _target(self) -> str:
        source, press = self.world.source, self.world.press
        target = press.target_n if self._source is press else source.target_pa
        return fill(self.words.target.reply, value=self.sent(self.in_unit(target)))

    def _set(self, **places: str) -> str | None:
        """Take what is in range; the rest is a message that it does not understand."""
        rate = self.number(places["rate"]) * self._rate_unit if "rate" in places else None
        target = self.in_base(self.number(places["value"])) if "value" in places else None
        if (rate is not None and rate <= 0.0) or (target is not None and not 0.0 <= target <= self.appearance.upper):
            self._puzzled = True
            return COMPLAINT if self.words.acknowledged else None
        if rate is not None:
            self._source.set_rate(rate)
        if target is not None:
            self._source.set_target(target)
        return None

    def _hears_all(self, messages: Iterable[Any], answer: Answer) -> None:
        for message in messages:
            self.hears(message, answer)

    def _hears_last(self, messages: Iterable[Any], answer: Answer) -> None:
        """The last of some messages does it; those before are taken."""
        *before, last = messages
        self._hears_all(before, lambda **_: None)
        self.hears(last, answer)


def agreed(asked: Sequence[tuple[Any, Callable[[], bool]]]) -> str:
    """One reply that says of every state asked for whether it holds; where no form does, that of the first."""
    truths = [(state, holds()) for state, holds in asked]
    could = [fill(form) for state, holds in truths for form in (state.yes if holds else state.no)]
    for reply in could:
        if all(fits(state.yes, reply) == holds and (holds or fits(state.no, reply)) for state, holds in truths):
            return reply
    return could[0]


def fits(forms: Iterable[Any], reply: str) -> bool:
    """Whether a reply has one of the forms of a state."""
    return any(re.fullmatch(".*".join(map(re.escape, form.text.split("*"))), reply) for form in forms)


def fill(form: Any, **values: str) -> str:
    """A reply of a form; `*` and places nobody fills become one letter."""
    filled = re.sub(_PLACES, lambda found: values.get(found[1], ANYTHING), form.text.replace("*", ANYTHING))
    return str(filled)
