"""Layered cases solved once more by solvers that share nothing with thermokit's own: ``python -m validation.solvers``."""
