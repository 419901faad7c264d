"""Instruments that keep their values in Modbus registers, over TCP and serial lines. README.md is the user's page."""
