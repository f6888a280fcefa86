"""Comparison of thermokit with published and independent sources: ``python -m validation``."""
