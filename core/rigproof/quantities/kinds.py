"""Kinds of quantity: what a number in a document stands for, and the units it may be written in.

Strain, ratio and bridge output have no dimension, and gauge and absolute pressure share one; so a check of
dimensions alone would pass 2 mV/V for a strain. A kind is narrower than a dimension and stops that.
Factors are exact fractions (SI Brochure, 9th edition; inch and pound by their 1959 definitions, from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

Scale = tuple[Fraction, Fraction]  # base = number * factor + offset


@dataclass(frozen=True)
class Kind:
    """One kind of quantity."""

    name: str
    base: str  # text of the base unit, in which all code computes
    units: Mapping[str, Scale]  # how people write it
    shown: str  # the unit in messages and tables
    difference: str  # kind of a difference of two values: limits and drifts are written in it
    rate: str = ""  # kind of its change per time; "" where none is needed
    lowest: Fraction | None = None  # no value below this is possible, in the base unit
    also: Mapping[str, str] = field(default_factory=dict)  # other spellings -> the unit in `units`
    ladder: tuple[str, ...] = ()  # rising units to choose from for a message, where values range over decades


PREFIX = {
    "n": Fraction(1, 10**9), "µ": Fraction(1, 10**6), "m": Fraction(1, 1000), "": Fraction(1),
    "k": Fraction(1000), "M": Fraction(10**6), "G": Fraction(10**9), "T": Fraction(10**12),
}  # fmt: skip
ONE = Fraction(1)
PER_TIME = {"s": Fraction(1), "min": Fraction(1, 60), "h": Fraction(1, 3600)}
INCH = Fraction(254, 10000)
POUND_FORCE = Fraction(45359237, 10**8) * Fraction(980665, 10**5)
PSI = POUND_FORCE / INCH**2
PI = Fraction("3.14159265358979323846264338327950288")

# A keyboard's way -> the printed letter. Letters are never folded by case: M is not m.
SPELLINGS = (("µ", "u"), ("ε", "e"), ("Ω", "ohm"), ("/K", "/°C"), ("°C", "degC"), ("K/", "°C/"), ("°", "deg"),
             ("·", ""), ("·", "*"), ("·", " "), ("·", "⋅"), ("²", "2"), ("³", "3"))  # fmt: skip

KINDS: dict[str, Kind] = {}


def kind_of(name: str) -> Kind:
    """The kind called `name`; a ValueError names the nearest right one."""
    from rigproof.quantities.nearest import did_you_mean

    try:
        return KINDS[name]
    except KeyError:
        raise ValueError(f"'{name}' is no kind of quantity; {did_you_mean(name, KINDS)}") from None


def _prefixed(unit: str, prefixes: str) -> dict[str, Fraction]:
    """`unit` with each prefix of a text such as "m,,k" (an empty one is the bare unit)."""
    return {prefix + unit: PREFIX[prefix] for prefix in prefixes.split(",")}


def _per_time(units: Mapping[str, Fraction]) -> dict[str, Fraction]:
    return {f"{unit}/{time}": f * per for unit, f in units.items() for time, per in PER_TIME.items()}


def _spellings(unit: str) -> set[str]:
    found = {unit}
    for printed, typed in SPELLINGS:
        found |= {spelling.replace(printed, typed) for spelling in found}
    return found - {unit}


def _add(
    name: str,
    base: str,
    units: Mapping[str, Fraction | Scale],
    shown: str,
    *,
    difference: str = "",
    rate: str = "",
    lowest: Fraction | int | None = None,
    also: Mapping[str, str] | None = None,
    ladder: tuple[str, ...] = (),
) -> None:
    scales = {unit: scale if isinstance(scale, tuple) else (scale, Fraction(0)) for unit, scale in units.items()}
    other = {spelling: unit for unit in scales for spelling in _spellings(unit) if spelling not in scales}
    least = None if lowest is None else Fraction(lowest)
    KINDS[name] = Kind(name, base, scales, shown, difference or name, rate, least, other | dict(also or {}), ladder)


BAR = Fraction(10**5)
PRESSURE = _prefixed("Pa", ",k,M") | {"mbar": BAR / 1000, "bar": BAR, "psi": PSI}
STRESS = _prefixed("Pa", ",k,M,G") | {"N/mm²": Fraction(10**6), "psi": PSI, "ksi": 1000 * PSI}
OHM = _prefixed("Ω", "µ,m,,k,M,G,T")
FORCE = _prefixed("N", "m,,k,M") | {"lbf": POUND_FORCE}
TORQUE = _prefixed("N·m", "m,,k,M") | {
    "N·mm": PREFIX["m"], "kN·mm": ONE, "N·cm": Fraction(1, 100),
    "lbf·ft": POUND_FORCE * 12 * INCH, "lbf·in": POUND_FORCE * INCH,
}  # fmt: skip
STRAIN = {"µε": PREFIX["µ"], "µm/m": PREFIX["µ"], "mm/m": PREFIX["m"], "m/m": ONE}
PERCENT = {"%": Fraction(1, 100), "‰": Fraction(1, 1000), "ppm": PREFIX["µ"]}
LENGTH = _prefixed("m", "n,µ,m,,k") | {"cm": Fraction(1, 100), "in": INCH}
TIME = _prefixed("s", "µ,m,") | {"min": Fraction(60), "h": Fraction(3600), "d": Fraction(86400)}
PER_KELVIN = {"1/K": ONE, "ppm/K": PREFIX["µ"], "µε/K": PREFIX["µ"], "%/K": Fraction(1, 100)}
VACUUM = -101325  # Pa: a perfect vacuum against the standard atmosphere (ISO 2533, from memory)

_add("gauge pressure", "Pa", PRESSURE, "bar", difference="pressure difference", rate="pressure rate", lowest=VACUUM,
     also={unit + mark: unit for unit in PRESSURE for mark in ("(g)", "g")})  # fmt: skip
_add("absolute pressure", "Pa", PRESSURE, "bar", difference="pressure difference", rate="pressure rate", lowest=0,
     also={unit + mark: unit for unit in PRESSURE for mark in ("(a)", "a")})  # fmt: skip
_add("pressure difference", "Pa", PRESSURE, "bar", rate="pressure rate")
_add("pressure rate", "Pa/s", _per_time(PRESSURE), "bar/s")
_add("stress", "Pa", STRESS, "MPa")
# 5 K for a temperature is nearly always a difference: the bound (just below liquid nitrogen) refuses it.
_add("temperature", "°C", {"°C": (ONE, Fraction(0)), "K": (ONE, Fraction("-273.15"))}, "°C",
     difference="temperature difference", rate="temperature rate", lowest=-200)  # fmt: skip
_add("temperature difference", "K", {"K": ONE, "mK": PREFIX["m"]}, "K", rate="temperature rate")
_add("temperature rate", "K/s", _per_time({"K": ONE, "mK": PREFIX["m"]}), "K/h")
_add("strain", "1", STRAIN, "µε", rate="strain rate", also={"microstrain": "µε"})
_add("strain rate", "1/s", _per_time({"µε": PREFIX["µ"]}), "µε/min")
# Sensitivities of a part: strain per load.
_add("strain per pressure", "1/Pa", {"µε/bar": PREFIX["µ"] / BAR, "µε/MPa": PREFIX["µ"] / 10**6, "1/Pa": ONE}, "µε/bar")
_add("strain per force", "1/N", {"µε/kN": PREFIX["n"], "µε/N": PREFIX["µ"], "1/N": ONE}, "µε/kN",
     ladder=("µε/kN", "µε/N"))  # fmt: skip
_add("strain per torque", "1/(N·m)", {"µε/(N·m)": PREFIX["µ"], "1/(N·m)": ONE}, "µε/(N·m)")
_add("strain per temperature", "1/K", {"µε/K": PREFIX["µ"], "1/K": ONE}, "µε/K")
_add("ratio", "1", {"": ONE} | PERCENT, "%")
_add("bridge output", "V/V", _prefixed("V/V", "n,µ,m,"), "mV/V")
_add("resistance", "Ω", OHM, "Ω", lowest=0)
_add("insulation resistance", "Ω", OHM, "MΩ", lowest=0, ladder=("kΩ", "MΩ", "GΩ", "TΩ"))
_add("voltage", "V", _prefixed("V", "n,µ,m,,k"), "V")
_add("current", "A", _prefixed("A", "n,µ,m,"), "mA")
_add("power", "W", _prefixed("W", "µ,m,,k"), "mW")
_add("power density", "W/m²", {"W/m²": ONE, "kW/m²": Fraction(1000), "mW/mm²": Fraction(1000)}, "kW/m²")
_add("energy", "J", _prefixed("J", "m,,k,M"), "kJ")
_add("time", "s", TIME, "s", lowest=0, ladder=("s", "h"))
_add("frequency", "Hz", _prefixed("Hz", "m,,k,M"), "Hz", lowest=0)
_add("length", "m", LENGTH, "mm")
_add("area", "m²", {"mm²": PREFIX["µ"], "cm²": Fraction(1, 10**4), "m²": ONE}, "mm²", lowest=0)
_add("volume", "m³", {"mm³": PREFIX["n"], "cm³": PREFIX["µ"], "ml": PREFIX["µ"], "l": PREFIX["m"], "m³": ONE}, "l",
     lowest=0, also={"mL": "ml", "L": "l"})  # fmt: skip
_add("mass", "kg", {"mg": PREFIX["µ"], "g": PREFIX["m"], "kg": ONE, "t": Fraction(1000)}, "kg", lowest=0)
_add("density", "kg/m³", {"kg/m³": ONE, "g/cm³": Fraction(1000)}, "kg/m³", lowest=0)
_add("force", "N", FORCE, "kN", rate="force rate", ladder=("N", "kN", "MN"))
_add("force rate", "N/s", _per_time(FORCE), "kN/s", ladder=("N/s", "kN/s"))
_add("torque", "N·m", TORQUE, "N·m", rate="torque rate")
_add("torque rate", "N·m/s", _per_time(TORQUE), "N·m/s")
_add("acceleration", "m/s²", {"m/s²": ONE}, "m/s²")
_add("compressibility", "1/Pa", {"1/Pa": ONE, "1/MPa": PREFIX["µ"], "1/GPa": PREFIX["n"], "1/bar": ONE / BAR}, "1/GPa")
_add("expansion", "1/K", PER_KELVIN, "ppm/K")
_add("temperature coefficient", "1/K", PER_KELVIN, "ppm/K")
_add("angle", "rad", {"°": PI / 180, "mrad": PREFIX["m"], "rad": ONE}, "°")
_add("number", "1", {"": ONE}, "")
