"""Attacks on thermokit that are too long for the tests: ``python -m validation.siege SUBCOMMAND``."""
