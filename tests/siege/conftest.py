"""Registers the profiles of hypothesis before it looks for the one that the command line names; keeps what was counted."""

from validation.siege import counting

from . import profiles  # noqa: F401


def pytest_sessionfinish() -> None:
    """The profile ``siege`` counts the cases of each property."""
    counting.keep()
