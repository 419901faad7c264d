"""What all simulated instruments share: identity, status, how truth becomes a reading, how messages are carried out."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import ClassVar

import numpy as np
import numpy.typing as npt

from rigproof_twin.faults import FaultyWire
from rigproof_twin.instruments.reading import TRUE, Hanging, reading
from rigproof_twin.interface import Appearance, FloatArray, World
from rigproof_twin.parameters import Whole
from rigproof_twin.scpi import CommandSet, command, query
from rigproof_twin.status import ScpiError, Status
from rigproof_twin.wire import LF, Exchange

OVERLOAD = 9.9e37  # SCPI-1999, volume 1, 7.2.1: infinity; not-a-number is 9.91E37


class SimulatedInstrument:
    """One instrument at the wire.

    `connect` gives the exchange of messages. An instrument that is not `alive` swallows everything and never answers.
    `rng` belongs to this instrument alone, so that its noise does not depend on what others are asked.
    """

    kind: ClassVar[str]  # the word after `driver:` in rig.yaml of the driver that talks to it
    commands: ClassVar[CommandSet]
    terminator = LF  # of its messages and replies
    exchange: ClassVar[type[Exchange]] = Exchange

    def __init_subclass__(cls) -> None:
        cls.commands = CommandSet(cls)

    def __init__(self, world: World, appearance: Appearance, rng: np.random.Generator) -> None:
        self.world = world
        self.clock = world.clock
        self.appearance = appearance
        self.rng = rng
        self.status = Status()
        self.alive = True
        self.wire: FaultyWire | None = None
        self.busy_until_s = 0.0
        self.ready_s = 0.0  # when the message in hand will be done
        self._message_available = False
        self._hanging = Hanging()
        self._last: dict[int, float] = {}  # by input; what a frozen instrument repeats
        self._deviates: dict[tuple[int, ...], tuple[Appearance, tuple[FloatArray, ...]]] = {}  # by inputs
        self._bus = self.exchange(self, bus=True)

    def connect(self, bus: bool) -> Exchange:
        """The one exchange of the bus, or a new one for a stream. Raises `ConnectionRefusedError` on a dead line."""
        if self.wire is not None and self.wire.refuses:
            raise ConnectionRefusedError("the link is lost")
        self._bus.lost = False
        return self._bus if bus else self.exchange(self, bus=False)

    def execute(self, message: bytes, message_available: bool) -> tuple[bytes, float]:
        """Carry out one program message: its reply ("" for none) and when that is ready (s on the clock)."""
        program = self.commands.compile(message)
        self.ready_s = max(self.clock.now(), self.busy_until_s)
        self._message_available = message_available
        replies: list[bytes] = []
        indefinite = False
        for unit in program.units:
            asks = unit.command.asks
            if asks and indefinite:
                self.status.report(-440, unit.command.pattern)
            elif unit.error:
                self.status.report(unit.error.number, unit.error.detail)
            else:
                try:
                    if asks:
                        self.ready_s += self.appearance.latency_s
                        reply = unit.command.method(self, *unit.arguments)
                        replies.append(reply if isinstance(reply, bytes) else reply.encode("ascii", "replace"))
                        self._message_available = True
                        indefinite = unit.command.indefinite
                    else:
                        unit.command.method(self, *unit.arguments)
                except ScpiError as error:
                    self.status.report(error.number, error.detail)
        if program.error:
            self.status.report(program.error.number, program.error.detail)
        self.busy_until_s = self.ready_s
        return b";".join(replies), self.ready_s

    def reset(self) -> None:
        """Take the settings to their start values (*RST); instruments with settings override this."""

    # What methods of instruments use

    def spend(self, seconds: float) -> None:
        """Say that the query in hand takes `seconds` of measuring, on top of the latency."""
        self.ready_s += seconds

    def existing(self, inputs: Iterable[int]) -> tuple[int, ...]:
        """The inputs of a channel list; -222 for one that the instrument has not, -224 for one named twice."""
        wanted = tuple(inputs)
        for number in wanted:
            if not 1 <= number <= self.appearance.input_count:
                raise ScpiError(-222, f"input {number} of 1..{self.appearance.input_count}")
        if len(set(wanted)) < len(wanted):
            raise ScpiError(-224, "an input twice")
        return wanted

    def seen(self, channel_input: int, truth: float) -> float:
        """One reading of a true value: deviation, noise, resolution, range; nan and infinity read as overload.

        The same as `seen_all`, without the cost of arrays.
        """
        look = self.appearance
        fresh = reading(look, channel_input, truth, self.ready_s, self.rng)
        value = self._hanging.reading(look, channel_input, fresh, self.ready_s)
        return min(max(value, -OVERLOAD), OVERLOAD)

    def seen_all(self, inputs: tuple[int, ...], truth: FloatArray, times_s: FloatArray) -> FloatArray:
        """Readings of true values, shape (times, inputs), taken at `times_s`."""
        look = self.appearance
        gains, offsets, drifts, drift_times_s = self._deviations(inputs)
        readings = truth * gains + offsets
        if drifts.any():
            readings -= drifts * np.expm1(-times_s[:, None] / drift_times_s)
        if look.noise_relative:
            scatter = np.hypot(look.noise, look.noise_relative * readings)
            readings += np.where(np.isfinite(scatter), self.rng.standard_normal(readings.shape) * scatter, 0.0)
        elif look.noise:
            readings += look.noise * self.rng.standard_normal(readings.shape)
        if look.rail < np.inf:
            readings = np.clip(readings, -look.rail, look.rail)
        if look.resolution:
            readings = np.rint(readings / look.resolution) * look.resolution
        if look.freezes_at_s < np.inf:
            self._freeze(inputs, readings, times_s < look.freezes_at_s)
        lowest, highest = max(look.lower, -OVERLOAD), min(look.upper, OVERLOAD)
        if not ((readings >= lowest) & (readings <= highest)).all():
            readings[~(readings <= highest)] = OVERLOAD  # nan, too
            readings[readings < lowest] = -OVERLOAD
        return readings

    def _deviations(self, inputs: tuple[int, ...]) -> tuple[FloatArray, ...]:
        """Gains, offsets, drifts and their times, shape (inputs,); kept as long as the instrument looks the same."""
        look, kept = self._deviates.get(inputs, (None, ()))
        if look is not self.appearance:
            found = [self.appearance.deviations.get(i, TRUE) for i in inputs]
            rows = [(1.0 + each.gain_error, each.offset, each.zero_drift, each.drift_time_s) for each in found]
            kept = tuple(np.array(rows, dtype=np.float64).T)
            self._deviates[inputs] = (self.appearance, kept)
        return kept

    def _freeze(self, inputs: tuple[int, ...], readings: FloatArray, live: npt.NDArray[np.bool_]) -> None:
        """Put the last live reading of each input in the place of all that come after it."""
        for column, channel_input in enumerate(inputs):
            if live.any():
                self._last[channel_input] = float(readings[live, column][-1])
            readings[~live, column] = self._last.setdefault(channel_input, float(readings[0, column]))

    def in_turn(self, inputs: tuple[int, ...], readings: Iterable[float]) -> str:
        """Readings of a scanner that switches from input to input: each after the first costs the latency again."""
        self.spend(self.appearance.latency_s * (len(inputs) - 1))
        return ",".join(map(nr3, readings))

    # IEEE 488.2, 10: common commands; SCPI-1999, volume 1, 4.2.1: required commands

    @query("*IDN", indefinite=True)
    def _identity(self) -> str:
        look = self.appearance
        return ",".join(
            field.replace(",", " ") for field in (look.maker, look.model, look.serial_number, look.firmware)
        )

    @command("*RST")
    def _reset(self) -> None:
        self.reset()

    @command("*CLS")
    def _clear_status(self) -> None:
        self.status.clear()

    @command("*ESE", Whole(0, 255))
    def _enable_events(self, mask: int) -> None:
        self.status.event_enable = mask

    @query("*ESE")
    def _events_enabled(self) -> str:
        return str(self.status.event_enable)

    @query("*ESR")
    def _events(self) -> str:
        return str(self.status.take_events())

    @command("*OPC")
    def _note_completion(self) -> None:
        self.status.complete()

    @query("*OPC")
    def _await_completion(self) -> str:
        return "1"  # messages are carried out one after the other: what came before is done

    @command("*WAI")
    def _wait(self) -> None:
        """Nothing to wait for: messages are carried out one after the other."""

    @command("*SRE", Whole(0, 255))
    def _enable_service(self, mask: int) -> None:
        self.status.service_enable = mask & ~64  # IEEE 488.2, 11.3.2.1: bit 6 is not stored

    @query("*SRE")
    def _service_enabled(self) -> str:
        return str(self.status.service_enable)

    @query("*STB")
    def _status_byte(self) -> str:
        return str(self.status.byte(self._message_available))

    @query("*TST")
    def _self_test(self) -> str:
        return "0"  # it has no means to test itself; 0 is what the standard asks for then (10.38)

    @query("SYSTem:ERRor[:NEXT]")
    def _next_error(self) -> str:
        return self.status.next_error()

    @query("SYSTem:VERSion")
    def _version(self) -> str:
        return "1999.0"

    @query("STATus:OPERation:CONDition")
    def _operation(self) -> str:
        return str(self.operation_condition())

    @query("STATus:QUEStionable:CONDition")
    def _questionable(self) -> str:
        return "0"

    def operation_condition(self) -> int:
        """The operation condition register (SCPI-1999, vol. 1, 9): what the instrument is doing."""
        return 0


def nr3(value: float) -> str:
    """A number as it is sent: NR3 with ten digits (IEEE 488.2, 8.7.4), or SCPI's infinity or not-a-number."""
    if math.isnan(value):
        return "9.91E37"
    if abs(value) >= OVERLOAD:
        return "9.9E37" if value > 0 else "-9.9E37"
    return f"{value:.9E}"
