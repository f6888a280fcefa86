"""Registers the profiles of hypothesis before it looks for the one that the command line names."""

from . import profiles  # noqa: F401
