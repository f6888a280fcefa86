"""Measured text files: columns of a logger as times and temperatures, whatever wrote them; every guess is told."""
