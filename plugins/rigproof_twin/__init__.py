"""The simulated rig: a known truth under the drivers, at the wire."""
