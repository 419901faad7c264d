"""Strain reduction: bridges, leads, shunts, thermal output, leaks, rosettes; and the platinum thermometer."""
