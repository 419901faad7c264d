"""Strain reduction: bridges, leads, shunt calibration, transverse sensitivity; and the platinum thermometer."""
