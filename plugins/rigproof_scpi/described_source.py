"""Driver `described source`: what applies load, when its messages stand in rig.yaml."""

from __future__ import annotations

import math
from typing import ClassVar

from rigproof.errors import InstrumentError, NumberError
from rigproof.instruments import Connection, Loads, Rotates, Settings

from .command_map import Setting, SourceMap, State
from .described import Described
from .patterns import is_as_sent, number_of, number_text

_NEAR_DEG = 0.5  # an angle read back may lie this far off
_ROTATES_WITHIN_S = 120.0
_LAST_REPLIES_S = 1.0
_ROUNDED = 0.01  # relative; rounding to the map's decimals may move a setting by this much and no more


class DescribedSource(Described, Loads, Rotates):
    """Settings that the map can read back are read back before the source is set moving."""

    kind: ClassVar[str] = "described source"
    settings_model: ClassVar[type[Settings]] = SourceMap

    def __init__(self, connection: Connection, settings: Settings) -> None:
        super().__init__(connection, settings)
        assert isinstance(settings, SourceMap), "see `settings_model`"
        self._map = settings

    @classmethod
    def unloadable(cls, settings: Settings, kind: str) -> str:
        """It moves one quantity."""
        assert isinstance(settings, SourceMap), "see `settings_model`"
        return "" if settings.quantity == kind else f"moves {settings.quantity} by its map, and the part takes {kind}"

    @classmethod
    def isolates(cls, settings: Settings) -> bool:
        """Where the map has `isolate`."""
        return isinstance(settings, SourceMap) and settings.isolate is not None

    @classmethod
    def rotates(cls, settings: Settings) -> bool:
        """Where the map has `rotate`."""
        return isinstance(settings, SourceMap) and settings.rotate is not None

    def _expect_it_works(self) -> None:
        """The safe state must be known to answer before anything moves."""
        self._state(self._map.safe)

    def rise_to(self, target: float, rate_per_s: float) -> None:
        """Set the rate, the target, read them back, and start."""
        if not (math.isfinite(target) and 0 < rate_per_s < math.inf):
            raise NumberError(
                f"target={target}, rate_per_s={rate_per_s}: a finite target is gone to at a rate above 0. Give both."
            )
        numbers = {"rate": self._map.rate_number(rate_per_s), "value": self._map.from_base(target)}
        texts = {word: self._sendable(number, word) for word, number in numbers.items()}
        rate, aim = self._map.rate, self._map.target
        if rate.send:
            self._tell(rate.send, **texts)
            self._expect(rate, "rate", texts["rate"])  # before the target, which may set the source moving
        self._tell(aim.send, **texts)
        if not rate.send:
            self._expect(rate, "rate", texts["rate"])
        self._expect(aim, "value", texts["value"])
        if self._map.start:
            self._tell(self._map.start)

    def settled(self) -> bool:
        """What the source says."""
        return self._state(self._map.settled)

    def isolate(self, isolated: bool) -> None:
        """Shut or open the valve, and read it back."""
        valve = self._map.isolate
        if valve is None:
            raise InstrumentError(self.connection.name, "its map has no `isolate`; say in it how the valve is shut")
        self._tell(valve.send if isolated else valve.send_back)
        shut = self._state(valve)
        self._session.check(
            shut == isolated,
            valve.ask.text,
            f"the valve is {'shut' if shut else 'open'}",
            f"it was told to {'shut' if isolated else 'open'}",
            "look for a stuck valve",
        )

    def rotate_to(self, angle_rad: float) -> None:
        """Send the angle, and read it back until the part stands there."""
        way, wanted, clock = self._map.rotate, math.degrees(angle_rad), self.connection.clock
        if way is None:
            raise InstrumentError(self.connection.name, "its map has no `rotate`; say in it how the part is turned")
        if not math.isfinite(wanted):
            raise NumberError(f"angle_rad={angle_rad}: a part is rotated to an angle that is a number. Give one.")
        self._tell(way.send, value=self._sendable(wanted, "angle"))
        deadline = clock.now() + _ROTATES_WITHIN_S
        while not _same_direction(self._ask(way.ask, lambda reply: self._number(reply, way.reply, "value")), wanted):
            if clock.now() > deadline:
                raise InstrumentError(
                    self.connection.name, f"did not rotate the part to {wanted:.4g}° within {_ROTATES_WITHIN_S:.0f} s"
                )
            clock.wait(1.0)

    def go_safe(self) -> None:
        """Send the safe messages and read the state back; whatever stands against it, twice on a fresh connection."""
        try:
            self._make_safe()
        except InstrumentError:
            try:
                self._make_safe_afresh()
            except InstrumentError:
                self._make_safe_afresh()

    def _make_safe(self) -> None:
        """What it complains of is not asked, and how it acknowledges not judged: the state alone counts."""
        for wording in self._map.safe.send:
            self._write(wording, {}, judged=False)
        self._expect_safe()

    def _make_safe_afresh(self) -> None:
        for wording in self._map.safe.send:
            self._session.last_word(wording.text)  # before time is lost on the connection, and even without replies
            self._pause()
        if self._map.acknowledged:  # on a serial line these would be taken for the next replies
            self.connection.clock.wait(min(_LAST_REPLIES_S, self.connection.timeout_s))
        self._session.reconnect()
        self._make_safe()
        self._expect_same()  # a stranger's safe state is nobody's

    def is_safe(self) -> bool:
        """What the source says of its safe state."""
        self._recover()
        return self._state(self._map.safe)

    def _expect_safe(self) -> None:
        self._session.check(
            self.is_safe(),
            self._map.safe.ask.text,
            "the source is not in its safe state",
            f"{', '.join(wording.text for wording in self._map.safe.send)} takes it there",
            "stop the source by hand and take the load off; the part may be loaded",
        )

    def _state(self, state: State) -> bool:
        return self._ask(state.ask, state.of)

    def _sendable(self, number: float, word: str) -> str:
        """The number as it is sent; refused where rounding would change what is asked for."""
        text = number_text(number, self._map.decimals, self._map.decimal == "comma")
        if abs(number_of(text) - number) > _ROUNDED * abs(number):
            raise InstrumentError(
                self.connection.name,
                f"{word} {number:g} would be sent as {text}; give the map more `decimals`, or a smaller unit",
            )
        return text

    def _expect(self, setting: Setting, word: str, sent: str) -> None:
        """Read a setting back, where the map says how; it may lie a source's own steps from what was sent."""
        form = setting.reply
        if setting.ask is None or form is None:
            return
        got = self._ask(setting.ask, lambda reply: self._number(reply, form, word))
        self._session.check(
            is_as_sent(got, sent),
            setting.ask.text,
            f"it reads back {got:g}",
            f"it was set to {sent}",
            "stay within the source's range, and write no more `decimals` than it keeps",
        )


def _same_direction(got_deg: float, wanted_deg: float) -> bool:
    """Whether two angles are one position; what is no number is none."""
    return math.isfinite(got_deg) and abs(math.remainder(got_deg - wanted_deg, 360.0)) <= _NEAR_DEG
