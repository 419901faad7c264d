"""The simulated bridge amplifier: excitation, shunt relays, and scans of several inputs at once."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from rigproof_twin.instruments.base import SimulatedInstrument, nr3
from rigproof_twin.interface import Appearance, FloatArray, World
from rigproof_twin.parameters import Channels, Number, Whole, Word
from rigproof_twin.scpi import command, query
from rigproof_twin.status import ScpiError

EXCITATION_V = 2.5  # after power-on and *RST
LOWEST_V, HIGHEST_V = 0.1, 20.0
MOST_SCANS = 100_000  # so that four inputs fit into the output queue
LONGEST_S = 3600.0


class BridgeAmplifier(SimulatedInstrument):
    """Reads bridge output in V/V. All inputs of a scan are sampled at the same instant."""

    kind = "bridge amplifier"

    def __init__(self, world: World, appearance: Appearance, rng: np.random.Generator) -> None:
        super().__init__(world, appearance, rng)
        self.reset()

    def reset(self) -> None:
        """Shunts open, excitation 2.5 V, one scan of input 1, ASCII."""
        self.configured: tuple[int, ...] = (1,)
        self.scans = 1
        self.interval_s = 0.01
        self.real = False
        self.swapped = False
        self.excitation_v = dict.fromkeys(range(1, self.appearance.input_count + 1), EXCITATION_V)
        self.shunted = dict.fromkeys(self.excitation_v, False)
        for channel_input in self.excitation_v:
            self.world.set_excitation(channel_input, EXCITATION_V)
            self.world.close_shunt(channel_input, False)

    @command("SOURce:VOLTage", Number(LOWEST_V, HIGHEST_V), Channels())
    def _set_excitation(self, volt: float, channels: tuple[int, ...]) -> None:
        for channel_input in self.existing(channels):
            self.excitation_v[channel_input] = volt
            self.world.set_excitation(channel_input, volt)

    @query("SOURce:VOLTage", Channels())
    def _excitation(self, channels: tuple[int, ...]) -> str:
        return ",".join(nr3(self.excitation_v[i]) for i in self.existing(channels))

    @command("ROUTe:CLOSe", Channels())
    def _close_shunts(self, channels: tuple[int, ...]) -> None:
        self._shunt(channels, True)

    @command("ROUTe:OPEN", Channels())
    def _open_shunts(self, channels: tuple[int, ...]) -> None:
        self._shunt(channels, False)

    @query("ROUTe:CLOSe", Channels())
    def _shunts_closed(self, channels: tuple[int, ...]) -> str:
        return ",".join(str(int(self.shunted[i])) for i in self.existing(channels))

    @command("CONFigure:VOLTage:RATio", Channels())
    def _configure(self, channels: tuple[int, ...]) -> None:
        self.configured = self.existing(channels)

    @command("SENSe:SWEep:POINts", Whole(1, MOST_SCANS))
    def _set_scans(self, scans: int) -> None:
        self.scans = scans

    @query("SENSe:SWEep:POINts")
    def _scans(self) -> str:
        return str(self.scans)

    @command("SENSe:SWEep:TINTerval", Number(0.0, LONGEST_S))
    def _set_interval(self, seconds: float) -> None:
        self.interval_s = seconds

    @query("SENSe:SWEep:TINTerval")
    def _interval(self) -> str:
        return nr3(self.interval_s)

    @command("FORMat[:DATA]", Word(("REAL", "ASCii")), Whole(0, 64, default=0))
    def _set_format(self, word: str, length: int) -> None:
        if word == "REAL" and length not in {0, 64}:
            raise ScpiError(-224, f"REAL,{length}")
        self.real = word == "REAL"

    @query("FORMat[:DATA]")
    def _format(self) -> str:
        return "REAL,64" if self.real else "ASC"

    @command("FORMat:BORDer", Word(("NORMal", "SWAPped")))
    def _set_byte_order(self, word: str) -> None:
        self.swapped = word == "SWAP"

    @query("FORMat:BORDer")
    def _byte_order(self) -> str:
        return "SWAP" if self.swapped else "NORM"

    @query("READ")
    def _read(self) -> str | bytes:
        readings = self._scan(self.configured, self.scans)
        self.spend(self.scans * self.interval_s)
        return block(readings, swapped=self.swapped) if self.real else ",".join(map(nr3, readings.flat))

    @query("MEASure:VOLTage:RATio", Channels())
    def _measure(self, channels: tuple[int, ...]) -> str:
        return ",".join(map(nr3, self._scan(self.existing(channels), 1).flat))

    def _scan(self, inputs: tuple[int, ...], scans: int) -> FloatArray:
        """Readings, shape (scans, inputs); the first is taken at the end of the latency."""
        times_s = self.ready_s + self.interval_s * np.arange(scans, dtype=np.float64)
        return self.seen_all(inputs, self.world.bridge_output(inputs, times_s), times_s)

    def _shunt(self, channels: Iterable[int], closed: bool) -> None:
        for channel_input in self.existing(channels):
            self.shunted[channel_input] = closed
            self.world.close_shunt(channel_input, closed)


def block(values: FloatArray, swapped: bool = False) -> bytes:
    """A definite-length block (IEEE 488.2, 8.7.9) of 64-bit numbers, big-endian unless swapped."""
    data = values.astype("<f8" if swapped else ">f8").tobytes()
    length = str(len(data))
    return f"#{len(length)}{length}".encode() + data
