"""Driver `replay source`: a recorded load that stands for what a source did. It loads nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

import numpy as np

from rigproof.errors import InstrumentError
from rigproof.instruments import FloatArray, Loads, Settings
from rigproof.quantities import show

from .replay import SLACK_S, TableDriver, scale_of, wrong_unit
from .settings import Column, ReplaySourceSettings


class ReplaySource(TableDriver, Loads):
    """Arrives where the record does; valve and safe state are the record's own, and commands move nothing."""

    kind: ClassVar[str] = "replay source"
    settings_model: ClassVar[type[Settings]] = ReplaySourceSettings

    _target = 0.0
    _rises = True  # the load comes to its target from below

    @property
    def source(self) -> ReplaySourceSettings:
        """The settings."""
        assert isinstance(self.settings, ReplaySourceSettings)
        return self.settings

    def columns(self) -> Sequence[Column]:
        """The load."""
        return [self.source.load]

    def problems(self) -> Sequence[tuple[tuple[str | int, ...], str, str]]:
        """Units that are not of one kind."""
        kind = self.source.within.kind
        problem = wrong_unit(self.source.load.unit, kind)
        found: list[tuple[tuple[str | int, ...], str, str]] = [] if problem is None else [(("load", "unit"), *problem)]
        if self.source.safe_below.kind != kind:
            said = f"is a {self.source.safe_below.kind}, and `within` is a {kind}"
            found.append((("safe below",), said, "write both in a unit of the load"))
        return found

    def rise_to(self, target: float, rate_per_s: float) -> None:  # noqa: ARG002  the record has a rate of its own
        """Look for the target in the rest of the record. `InstrumentError` where the load never comes there."""
        now = self.connection.clock.now()
        rest = self._load_from(now)
        self._target, self._rises = target, bool(rest[0] <= target)
        if not self._arrived(rest).any():
            kind, numbers = self.source.within.kind, rest[np.isfinite(rest)]
            most = np.max(numbers, initial=-np.inf) if self._rises else np.min(numbers, initial=np.inf)
            raise InstrumentError(
                self.connection.name,
                f"the record never reaches {show(target, kind, 4)} after {now - self._zero_s():g} s: its load comes no "
                f"nearer than {show(float(most), kind, 4)}; correct `to` of the step, or `within:`",
            )

    def settled(self) -> bool:
        """True when the recorded load has come to its target."""
        return bool(self._arrived(self._loads(np.array([self.connection.clock.now()])))[0])

    def isolate(self, isolated: bool) -> None:
        """Nothing: whoever took the record shut the valve, or did not."""

    def go_safe(self) -> None:
        """Nothing: a record cannot be vented; `is_safe` says where it ends."""

    def is_safe(self) -> bool:
        """True when the recorded load is below `safe below` now, and at the end of the record."""
        now = self.connection.clock.now()
        loads = self._load_from(now)
        return bool(np.all(np.abs(loads[[0, -1]]) <= self.source.safe_below.value))

    def _arrived(self, loads: FloatArray) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        near = self._target - self.source.within.value, self._target + self.source.within.value
        return loads >= near[0] if self._rises else loads <= near[1]

    def _load_from(self, now: float) -> FloatArray:
        """The load now, and at every row after; base unit."""
        table = self._read()
        ahead = table.times[table.times > now - self._zero_s() + SLACK_S] + self._zero_s()
        return self._loads(np.concatenate([[now], ahead]))

    def _loads(self, times: FloatArray) -> FloatArray:
        factor, offset = scale_of(self.source.load.unit, self.source.within.kind)
        return self.at(times, self.source.load.column) * factor + offset
