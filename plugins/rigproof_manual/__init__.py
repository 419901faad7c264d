"""Instruments and sources that a person works by hand: a meter is read and typed, weights are placed and confirmed."""
