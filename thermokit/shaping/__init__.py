"""Shaping the hot sheet: mechanics and geometry alone (domes, draw, thickness, pressure, clamp, size, annealing)."""
