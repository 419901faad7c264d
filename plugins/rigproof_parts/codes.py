"""Test pressures that codes ask for, from the working pressure. The code that governs comes before this table.

`stress_ratio` is allowable stress at test temperature over that at design temperature, the lowest of the part.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rigproof.errors import NumberError
from rigproof.models import Fact


@dataclass(frozen=True)
class TestRule:
    """One rule: test pressure = `of(stress_ratio)` times the working pressure."""

    __test__ = False  # the name is the trade's; this is no test of pytest

    name: str
    gas: bool
    of: Callable[[float], float]
    source: str

    def pressure_pa(self, working_pa: float, stress_ratio: float = 1.0) -> float:
        """Test pressure (Pa, gauge) for a working or design pressure (Pa, gauge)."""
        if not (working_pa > 0 and stress_ratio >= 1):
            raise NumberError(
                f"working pressure = {working_pa:g} Pa, stress ratio = {stress_ratio:g}: the pressure must be positive "
                "and the ratio at least 1; a material is not weaker at test temperature than hot"
            )
        return self.of(stress_ratio) * working_pa


# Seen on 2026-11-25 in the texts or in copies of pages, except where memory is named.
RULES = (
    TestRule("PED", False, lambda r: max(1.25 * r, 1.43), "2014/68/EU, Annex I, 7.4; same form in EN 13445-5, 10.2.3"),
    TestRule("UG-99", False, lambda r: 1.3 * r, "ASME VIII-1, UG-99(b)"),
    TestRule("B31.3 with liquid", False, lambda r: 1.5 * r, "ASME B31.3-2016, 345.4.2"),
    TestRule("UG-100", True, lambda r: 1.1 * r, "ASME VIII-1, UG-100(b); 1.25 in older editions"),
    TestRule("B31.3 with gas", True, lambda _: 1.1, "ASME B31.3-2016, 345.5.4"),
    TestRule("46 CFR", True, lambda r: 1.25 * r, "46 CFR 54.10-15 (2004)"),
)


def b31_3_highest_with_gas_pa(design_pa: float, yield_pa: float) -> float:
    """Lesser of 1.33 times design pressure and the pressure of 90 % of yield (ASME B31.3-2016, 345.5.4)."""
    return min(1.33 * design_pa, 0.9 * yield_pa)


def facts(working_pa: float, yield_pa: float, *, gas: bool) -> list[Fact]:
    """Test pressures of the rules for the filling, at stress ratio 1."""
    found = [
        Fact(f"test pressure by {rule.name}", rule.pressure_pa(working_pa), "gauge pressure", f"{rule.source}; ratio 1")
        for rule in RULES
        if rule.gas == gas
    ]
    if gas:
        highest = b31_3_highest_with_gas_pa(working_pa, yield_pa)
        found.append(Fact("highest by B31.3 with gas", highest, "gauge pressure", "ASME B31.3-2016, 345.5.4"))
    return found
