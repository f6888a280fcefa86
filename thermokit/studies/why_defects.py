"""The list of defects of the trade, by kind of case, with what each is also called and what may cause it.

The lists are the files ``data/defects_KIND.toml``; what their keys mean is said at the head of that of sheets. A defect is found
by what people call it: the nearest name or other name is taken.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache
from pathlib import Path
from typing import Any

from thermokit.case import KINDS
from thermokit.errors import DataError

FOLDER = Path(__file__).parent / "data"
NEAR = 0.6  # likeness below which a word is not taken for a defect
STOP = frozenset(("a", "an", "the", "of", "on", "at", "in", "is", "or", "and", "to", "it", "my", "when", "part", "too"))


@dataclass(frozen=True)
class Cause:
    """One cause and how a run tells of it.

    says, test, then : the cause, the test at the machine that splits it from the others, the cure. check : limits of the case
    (* for anything); quantity : outcomes, where no such limit stands in the case; bad : ``above`` or ``below`` is what speaks for
    the cause; limit : in the outcome's unit; over, less : another outcome that it is divided by, or that is taken off; limit_of :
    the limit of the case whose bound is taken; assumed : the limit is a first guess, not even the practice of the trade.
    """

    says: str
    test: str
    then: str
    check: tuple[str, ...] = ()
    quantity: tuple[str, ...] = ()
    bad: str = ""
    limit: float | None = None
    over: str = ""
    less: str = ""
    limit_of: str = ""
    assumed: bool = False


@dataclass(frozen=True)
class Defect:
    """A defect of one kind of case; products : of a line, those that can have it (all where empty)."""

    kind: str
    name: str
    also: tuple[str, ...]
    causes: tuple[Cause, ...]
    products: tuple[str, ...] = ()

    def fits(self, product: str | None) -> bool:
        """Whether a line of that product can have it."""
        return not self.products or product is None or product in self.products


@cache
def defects(kind: str) -> tuple[Defect, ...]:
    """All defects of a kind of case, in the order of its file."""
    table = tomllib.loads((FOLDER / f"defects_{kind}.toml").read_text(encoding="utf-8"))
    found = []
    for entry in table["defects"]:
        rows: list[dict[str, Any]] = [
            {k: tuple(v) if isinstance(v, list) else v for k, v in own.items()} for own in entry["causes"]
        ]
        causes = tuple(Cause(**row) for row in rows)
        also, products = tuple(entry.get("also", ())), tuple(entry.get("products", ()))
        found.append(Defect(kind, entry["name"], also, causes, products))
    return tuple(found)


def listed(kind: str | None = None, product: str | None = None) -> tuple[Defect, ...]:
    """The defects of a kind, or of all kinds; product : of a line."""
    kinds = KINDS if kind is None else (kind,)
    return tuple(own for each in kinds for own in defects(each) if own.fits(product))


def nearest(words: str, among: tuple[Defect, ...]) -> tuple[Defect, ...]:
    """The defects that are called most like that, the likest first.

    Raises DataError with the list where nothing is near enough.
    """
    rated = sorted(((likeness(words, own), -i, own) for i, own in enumerate(among)), reverse=True)
    found = tuple(own for score, _, own in rated if score >= NEAR)
    if not found:
        names = "; ".join(dict.fromkeys(own.name for own in among))
        raise DataError(f"no defect is called like {words[:80]!r}; there are: {names}")
    best = rated[0][0]
    return tuple(own for score, _, own in rated if score >= NEAR and score >= best - 0.25)


def likeness(words: str, defect: Defect) -> float:
    """How like a defect's name, or one of its other names, some words are, from 0 to 1.

    The mean of two shares: of the words asked for, each with its nearest in the name (weighed by how like it is), and of the whole
    as written. A name that holds all that is asked for is at least 0.8.
    """
    return max(_alike(words, name) for name in (defect.name, *defect.also))


def _alike(words: str, name: str) -> float:
    asked, held = _words(words), _words(name)
    if not asked or not held:
        return 0.0
    if asked == held:
        return 1.0
    each = [max(_same(a, b) for b in held) for a in asked]
    back = [max(_same(a, b) for a in asked) for b in held]
    share, covered = sum(each) / len(each), sum(back) / len(back)
    whole = SequenceMatcher(None, " ".join(asked), " ".join(held)).ratio()
    score = 0.5 * share + 0.25 * covered + 0.25 * whole
    return max(score, 0.8 + 0.15 * covered) if share > 0.9 else score


def _same(a: str, b: str) -> float:
    """How like two words are; those that are not much alike count for nothing."""
    if a == b or (min(len(a), len(b)) >= 4 and (a.startswith(b) or b.startswith(a))):
        return 1.0
    ratio = SequenceMatcher(None, a, b).ratio()
    return ratio if ratio > 0.75 else 0.0


def _words(text: str) -> list[str]:
    found = re.findall(r"[a-z]+", text.lower().replace("mold", "mould").replace("discolor", "discolour"))
    kept = [_stem(word) for word in found if word not in STOP]
    return kept or [_stem(word) for word in found]


def _stem(word: str) -> str:
    """Without the endings that people add or leave out."""
    for ending in ("ing", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 4:
            return word[: -len(ending)]
    return word
