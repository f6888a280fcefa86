"""Progress of long work on standard error, only where someone is watching."""

from __future__ import annotations

import sys
import time
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from types import TracebackType

AFTER = 1.0  # s before anything is shown: short work needs no bar


class Progress:
    """A line on standard error with the share that is done; silent in pipes and for short work.

    Used in a ``with`` block: the line is cleared at its end, also when an error or Ctrl-C ends it.
    """

    def __init__(self, words: str):
        self.words = words
        self.begun = time.monotonic()
        self.shown = 0.0
        self.watched = sys.stderr.isatty()

    def __call__(self, share: float) -> None:
        """Tell the share that is done, 0 to 1."""
        now = time.monotonic()
        if not self.watched or now - self.begun < AFTER or now - self.shown < 0.2:
            return
        self.shown = now
        left = (now - self.begun) * (1.0 - share) / share if share > 0.0 else float("inf")
        rest = f", about {left:.0f} s left" if left < 1e6 else ""
        click.echo(f"\r{self.words}: {100.0 * share:.0f} %{rest}   ", err=True, nl=False)

    def done(self) -> None:
        """Clear the line."""
        if self.shown:
            click.echo("\r" + " " * 60 + "\r", err=True, nl=False)

    def __enter__(self) -> Progress:
        """Begin."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Clear the line, whatever happened."""
        self.done()
