"""The simulated pressure source: pump, vent and the valve between pump and part, with its own sensor."""

from __future__ import annotations

from rigproof_twin.instruments.base import SimulatedInstrument, nr3
from rigproof_twin.parameters import Channels, Number, Switch
from rigproof_twin.scpi import command, query
from rigproof_twin.status import ScpiError

SLOWEST_PA_PER_S, FASTEST_PA_PER_S = 1.0, 1e6
SETTLING = 2  # operation status, bit 1 (SCPI-1999, volume 1, 9)


class PressureSource(SimulatedInstrument):
    """Puts gauge pressure on the part. OUTPut OFF, pump stopped and vent open, is the safe state."""

    kind = "pressure source"

    def reset(self) -> None:
        """Safe state first, then target 0 and the path to the part open."""
        self.world.source.enable(False)
        self.world.source.connect(True)
        self.world.source.set_target(0.0)

    def operation_condition(self) -> int:
        """Settling until the target is reached."""
        return SETTLING * self.world.source.settling()

    @command("SOURce:PRESsure:SLEW", Number(SLOWEST_PA_PER_S, FASTEST_PA_PER_S))
    def _set_rate(self, pa_per_s: float) -> None:
        self.world.source.set_rate(pa_per_s)

    @query("SOURce:PRESsure:SLEW")
    def _rate(self) -> str:
        return nr3(self.world.source.rate_pa_per_s)

    @command("SOURce:PRESsure", Number(lower=0.0))
    def _set_target(self, pa: float) -> None:
        if pa > self.appearance.upper:
            raise ScpiError(-222, f"target {pa:g} Pa above {self.appearance.upper:g} Pa")
        self.world.source.set_target(pa)

    @query("SOURce:PRESsure")
    def _target(self) -> str:
        return nr3(self.world.source.target_pa)

    @command("OUTPut[:STATe]", Switch())
    def _switch_output(self, on: bool) -> None:
        self.world.source.enable(on)

    @query("OUTPut[:STATe]")
    def _output(self) -> str:
        return str(int(self.world.source.enabled))

    @command("ROUTe:CLOSe", Channels())
    def _connect(self, channels: tuple[int, ...]) -> None:
        self._the_valve(channels)
        self.world.source.connect(True)

    @command("ROUTe:OPEN", Channels())
    def _isolate(self, channels: tuple[int, ...]) -> None:
        self._the_valve(channels)
        self.world.source.connect(False)

    @query("ROUTe:CLOSe", Channels())
    def _connected(self, channels: tuple[int, ...]) -> str:
        self._the_valve(channels)
        return str(int(self.world.source.connected))

    @query("MEASure:PRESsure")
    def _measure(self) -> str:
        return nr3(self.seen(1, self.world.source.pressure_pa()))

    def _the_valve(self, channels: tuple[int, ...]) -> None:
        if channels != (1,):
            raise ScpiError(-222, "the source has valve 1 only")
