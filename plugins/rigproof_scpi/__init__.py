"""Instruments that speak SCPI, through PyVISA. The messages are listed in MESSAGES.md beside this file."""
