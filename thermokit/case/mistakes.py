"""Collecting every mistake of a case file, each with its place, before anything is raised."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from thermokit.errors import Mistake

if TYPE_CHECKING:
    from collections.abc import Iterable

MOST_SHOWN = 40  # mistakes that are listed one by one


@dataclass
class Report:
    """The mistakes found so far, as (path, mistake without a line).

    starts_from : True where the case begins from an earlier run, so that starts may be left out; sought : inputs that are left
    to be found though their keys are not declared so (:mod:`thermokit.case.sought`).
    """

    found: list[tuple[tuple[str, ...], Mistake]] = field(default_factory=list)
    unlisted: int = 0
    starts_from: bool = False
    sought: list[Any] = field(default_factory=list)

    def add(self, path: tuple[str, ...], mistake: Mistake) -> None:
        """Keep a mistake, or only count it when the list is long already."""
        if len(self.found) < MOST_SHOWN:
            self.found.append((path, mistake))
        else:
            self.unlisted += 1


@dataclass(frozen=True)
class At:
    """A place in the case file, where mistakes can be reported."""

    report: Report
    path: tuple[str, ...] = ()

    def __truediv__(self, step: str | int) -> At:
        """The place one key (or list entry) further in."""
        return At(self.report, (*self.path, str(step)))

    @property
    def root(self) -> At:
        """The case as a whole."""
        return At(self.report)

    def mistake(self, what: str, allowed: str = "", advice: str = "") -> None:
        """Report a mistake at this place."""
        self.report.add(self.path, Mistake(dotted(self.path) or "the case", what, allowed, advice))


def dotted(path: tuple[str, ...]) -> str:
    """A path as it is shown, each step cut to a readable length."""
    return ".".join(step if len(step) <= 60 else step[:57] + "..." for step in path)


def shown(raw: Any) -> str:
    """A value of the file, short, the way that TOML writes it."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, str):
        return f'"{raw}"' if len(raw) <= 60 else f'"{raw[:57]}..."'
    if isinstance(raw, int):
        return str(raw) if abs(raw) < 10**20 else "a number of more than 20 digits"
    if isinstance(raw, float):
        return f"{raw:g}"
    if isinstance(raw, list):
        return f"a list of {len(raw)}"
    if isinstance(raw, dict):
        return "a table"
    return "a date or time"


def nearest(word: str, names: Iterable[str]) -> str:
    """Advice naming the known names that are nearest to a word, or nothing when none is near."""
    from difflib import get_close_matches

    by_lower = {name.lower(): name for name in names}
    lower = word[:80].lower()
    near = get_close_matches(lower, list(by_lower), n=3, cutoff=0.6)
    near = near or [name for name in by_lower if len(lower) > 2 and name.startswith(lower[:3])][:3]
    if not near:
        return ""
    return "did you mean " + " or ".join(by_lower[name] for name in near) + "?"
