"""rigproof: scripted acceptance of strain-gauge installations and pressure proof rigs."""

__version__ = "0.1.0"
