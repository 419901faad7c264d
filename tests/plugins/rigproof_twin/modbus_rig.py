"""A small rig: two Modbus units behind one resource, a meter and a pump."""

RIG = """\
rigproof: rig/1
name: two units on one line and a pump
part: {model: cylinder, outside diameter: 219.1 mm, wall: 4.5 mm, ends: closed, gauge surface: outside, filling: water,
       material: {name: carbon steel, elastic modulus: 206 GPa, poisson ratio: 0.29, expansion: 11.7 ppm/K,
                  yield strength: 235 MPa}}
channels:
  pressure: {measures: gauge pressure, instrument: transmitter, input: 1}
  water: {measures: temperature, instrument: transmitter, input: 2}
instruments:
  transmitter:
    driver: modbus meter
    resource: tcp://192.0.2.20
    settings:
      unit id: 3
      identity: ask
      serial number object: 0x80
      inputs:
        1: {table: input, address: 0, type: float32, word order: high first, unit: bar}
        2: {table: input, address: 2, type: int16, scale: 0.01, unit: °C, overload: 0x7FFF}
  pump:
    driver: modbus source
    resource: tcp://192.0.2.20
    settings:
      unit id: 4
      identity: cannot say
      target: {table: holding, address: 0, type: float32, word order: low first, unit: bar}
      rate: {table: holding, address: 2, type: uint16, scale: 0.1, unit: bar/min}
      enable:
        - {table: coil, address: 1, value: 0}
        - {table: coil, address: 0, value: 1, reads back: {table: discrete, address: 1, equals: 1}}
      safe state:
        - {table: coil, address: 0, value: 0, reads back: {table: discrete, address: 1, equals: 0}}
        - {table: coil, address: 1, value: 1}
      valve: {table: holding, address: 9, open: 170, shut: 85}
      settled: {table: input, address: 5, bit: 3, equals: 1}
      actual: {table: input, address: 6, type: uint32, word order: high first, scale: 0.001, unit: bar}
      settled within: 0.1 bar
sources:
  pump: {instrument: pump, channel: pressure, rate: 0.5 bar/s, limit: 40 bar, safe below: 0.5 bar}
"""
