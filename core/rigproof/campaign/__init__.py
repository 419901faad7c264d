"""Many acceptances on the simulated rig: what a procedure finds, and how often it is wrong."""
