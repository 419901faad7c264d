"""Driving a rig through a procedure: opening instruments, steps, interlocks, and the safe end."""
