"""The three ways in which thermokit says no: each says where, what, what is allowed and what to do next."""

from __future__ import annotations

from dataclasses import dataclass


def visible(text: str) -> str:
    r"""A text on one line without characters that a terminal would obey: such stand as TOML writes them.

    >>> visible("a\x1b[31mb\n")
    'a\\u001b[31mb\\u000a'
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c == "\xa0" else f"\\u{ord(c):04x}" for c in text)


@dataclass(frozen=True)
class Mistake:
    """One mistake in a case file or on the command line.

    where : key path (``stations.0.outer.convection``), or the option's name
    what : what was found there
    allowed : what may stand there
    advice : what to do next (nearest known key, example)
    line : line in the file, where it could be found
    """

    where: str
    what: str
    allowed: str = ""
    advice: str = ""
    line: int | None = None

    def __str__(self) -> str:
        place = f"line {self.line}, {self.where}" if self.line else self.where
        parts = [f"{place}: {self.what}"]
        if self.allowed:
            parts.append(f"allowed: {self.allowed}")
        if self.advice:
            parts.append(self.advice)
        return visible("; ".join(parts))


class ThermokitError(Exception):
    """What all errors meant for the user have in common: ``exit_status`` is that of the command."""

    exit_status = 2


class CaseError(ThermokitError):
    """The case file, or a value in it, is wrong. Holds every mistake found, not only the first."""

    def __init__(self, file: str, mistakes: list[Mistake] | tuple[Mistake, ...]):
        self.file = file
        self.mistakes = tuple(mistakes)
        super().__init__(str(self))

    def __str__(self) -> str:
        n = len(self.mistakes)
        count = f"{n} mistake{'s' if n != 1 else ''}"
        head = f"{visible(self.file)}: {count}" if self.file else count
        return "\n".join([head, *(f"  {m}" for m in self.mistakes)])


class DataError(ThermokitError):
    """A file that is not a case (a result, a log, a library record) cannot be used: message says which and why."""


class SolveError(ThermokitError):
    """A solve ended without an answer, or a study found none: ``advice`` says what to try."""

    exit_status = 1

    def __init__(self, message: str, advice: str = ""):
        self.advice = advice
        super().__init__(message + (f"\n  {advice}" if advice else ""))
