"""Driver `pressure source`: a pump with a vent and a valve to the part. Safe is OUTP OFF: pump off, vent open."""

from __future__ import annotations

import math
from typing import ClassVar

from rigproof.errors import InstrumentError, NumberError
from rigproof.instruments import Loads

from . import replies
from .driver import ScpiDriver, channels, written

_SETTLING = 2  # bit 1 of STATus:OPERation:CONDition (SCPI-1999, status reporting)
_VALVE = channels([1])
_STEP, _STEP_PA = 1e-3, 100.0  # a setting read back may be rounded to the source's own steps: relative, and near 0 Pa


class PressureSource(ScpiDriver, Loads):
    """Moves gauge pressure (Pa). Every setting that could hurt is read back before the pump may follow it."""

    kind: ClassVar[str] = "pressure source"

    def rise_to(self, target: float, rate_per_s: float) -> None:
        """Set rate (Pa/s) and target (Pa), read both back, and enable the pump."""
        if not (math.isfinite(target) and 0 < rate_per_s < math.inf):
            raise NumberError(
                f"target={target}, rate_per_s={rate_per_s}: a finite target is gone to at a rate above 0. Give both."
            )
        self._set("SOUR:PRES:SLEW", rate_per_s, 0.0)
        self._set("SOUR:PRES", target, _STEP_PA)
        self._session.command("OUTP ON")
        on = self._session.ask("OUTP?", replies.boolean)
        self._session.check(on, "OUTP?", "the output is off", "it was switched on", "look for a fault on the source")

    def settled(self) -> bool:
        """True when the settling bit is clear."""
        return not self._session.ask("STAT:OPER:COND?", replies.register) & _SETTLING

    def isolate(self, isolated: bool) -> None:
        """Shut or open the valve between pump and part, and read it back. The vent stays on the part's side."""
        self._session.command(f"ROUT:{'OPEN' if isolated else 'CLOS'} {_VALVE}")
        connected = self._session.ask(f"ROUT:CLOS? {_VALVE}", replies.boolean)
        self._session.check(
            connected != isolated,
            f"ROUT:CLOS? {_VALVE}",
            f"the valve is {'open' if connected else 'shut'}",
            f"it was told to {'shut' if isolated else 'open'}",
            "look for a stuck valve",
        )

    def go_safe(self) -> None:
        """Pump off, vent open, confirmed; whatever stands against it, it is tried on a fresh connection too."""
        try:
            self._session.command("OUTP OFF")
            self._expect_safe()
        except InstrumentError:
            self._session.last_word("OUTP OFF")  # first of all, and even if no reply ever comes
            self._session.reconnect()
            self._session.write("OUTP OFF")
            self._expect_safe()
            self._session.expect_same()  # a stranger's safe state is nobody's

    def is_safe(self) -> bool:
        """True when the output reads back off."""
        self._session.recover()
        return not self._session.ask("OUTP?", replies.boolean)

    def _expect_safe(self) -> None:
        self._session.check(
            self.is_safe(),
            "OUTP?",
            "the output is still on",
            "OUTP OFF stops the pump and opens the vent",
            "stop the pump and open the vent by hand; the part may be under pressure",
        )

    def _set(self, header: str, value: float, step: float) -> None:
        self._session.command(f"{header} {written(value)}")
        got = self._session.ask(f"{header}?", replies.number)
        self._session.check(
            math.isclose(got, value, rel_tol=_STEP, abs_tol=step),
            f"{header}?",
            f"it reads back {got:g}",
            f"it was set to {value:g}",
            "stay within the source's range",
        )
