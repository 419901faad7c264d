"""The spool with a transmitter, a thermometer and a pump that speak Modbus; the rest as in rigs/spool."""

from __future__ import annotations

from pathlib import Path

SPOOL = Path(__file__).parents[3] / "tests" / "rigs" / "spool"

TRANSMITTER = """\
  transmitter:
    driver: modbus meter
    resource: tcp://192.0.2.20:502
    timeout: 5 s
    identity: {maker: Test bay, model: pressure transmitter 60 bar, serial number: P-0220}
    calibration: {certificate: 2026-0305, due: 2027-03-15}
    settings:
      unit id: 1
      identity: ask
      serial number object: 0x80
      inputs:
        1: {table: input, address: 0, type: float32, word order: low first, unit: bar}
"""
THERMOMETER = """\
  thermometer:
    driver: modbus meter
    resource: tcp://192.0.2.20:502
    timeout: 5 s
    settings:
      unit id: 2
      identity: cannot say
      inputs:
        1: {table: holding, address: 100, type: int16, scale: 0.01, unit: °C, overload: 32767}
"""
PUMP = """\
  pump:
    driver: modbus source
    resource: tcp://192.0.2.21
    timeout: 5 s
    settings:
      unit id: 7
      identity: cannot say
      target: {table: holding, address: 0, type: int32, word order: high first, scale: 0.001, unit: bar}
      rate: {table: holding, address: 2, type: float32, word order: high first, unit: bar/min}
      enable:
        - {table: coil, address: 1, value: 0}                                 # vent shut
        - {table: coil, address: 0, value: 1, reads back: {table: input, address: 9, bit: 1, equals: 1}}
      safe state:
        - {table: coil, address: 0, value: 0, reads back: {table: input, address: 9, bit: 1, equals: 0}}
        - {table: coil, address: 1, value: 1}                                 # vent open
      valve: {table: coil, address: 2, open: 1, shut: 0}
      settled: {table: input, address: 9, bit: 0, equals: 1}
      actual: {table: input, address: 10, type: uint16, scale: 0.01, unit: bar}
      settled within: 0.2 bar

"""


def modbus_rig() -> str:
    """The text of rig.yaml."""
    text = (SPOOL / "rig.yaml").read_text("utf-8")
    start = {name: text.index(f"  {name}:\n    driver") for name in ("transmitter", "thermometer", "pump")}
    return text[: start["transmitter"]] + TRANSMITTER + THERMOMETER + PUMP + text[text.index("sources:\n") :]


def changed(*changes: tuple[str, str]) -> str:
    """The same with changes (old, new), each found exactly once."""
    text = modbus_rig()
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text
