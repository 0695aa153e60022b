"""Steady-state harmonic solution of a damaged cage, from the machine's own parameters."""
