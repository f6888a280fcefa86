"""Exact solutions that thermokit is held against: small functions that name their source and import no thermokit."""
