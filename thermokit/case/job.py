"""What stands at the head of a setting sheet: whose job it is, which part and stock, and where each input comes from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.declare import UNKNOWN, Kind, Section, key
from thermokit.case.mistakes import nearest, shown
from thermokit.case.values import Text
from thermokit.case.walk import leaves

if TYPE_CHECKING:
    from thermokit.case.common import Case
    from thermokit.case.mistakes import At

SOURCES = ("measured", "data sheet", "assumed", "fitted")
DEEPEST = 12  # steps of a path


@dataclass(eq=False, repr=False)
class Sources(Kind):
    """Path -> word for where its value comes from; which paths there are only the whole case can say."""

    def read(self, raw: Any, at: At) -> Any:
        """Path -> word."""
        if not isinstance(raw, dict):
            at.mistake(f"{shown(raw)} is no table", self.words())
            return UNKNOWN
        out: dict[str, str] = {}
        for steps, word in _flat(raw, ()):
            place = at
            for step in steps:
                place = place / step
            if not isinstance(word, str) or word not in SOURCES:
                advice = nearest(word, SOURCES) if isinstance(word, str) else ""
                place.mistake(f"{shown(word)} is not one of the choices", _choices(), advice)
            elif ".".join(steps) in out:
                place.mistake("stands there twice", "each input once")
            else:
                out[".".join(steps)] = word
        return out

    def write(self, value: Any) -> Any:
        """The table as it is written in a file."""
        return dict(value) or None

    def words(self) -> str:
        """What may stand in the table."""
        return f'lines such as "sheet.thickness" = "measured" or "materials" = "data sheet"; choices: {_choices()}'

    def schema(self) -> dict[str, Any]:
        """JSON Schema of the table."""
        return {"type": "object", "additionalProperties": {"enum": list(SOURCES)}}


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Job(Section):
    """Whose job it is; nothing here changes a number."""

    meaning = "what stands at the head of a setting sheet"

    number: str = key(Text(), "Job number.", default="")
    date: str = key(Text(), "Date, as it is to be printed.", default="")
    revision: str = key(Text(), "Revision of the sheet.", default="")
    author: str = key(Text(), "Who made the case.", default="")
    checker: str = key(Text(), "Who checked it.", default="")
    part: str = key(Text(), "The part.", default="")
    drawing: str = key(Text(), "Its drawing.", default="")
    grade: str = key(Text(), "Grade of the material, as it stands on the bag.", default="")
    colour: str = key(Text(), "Colour of the material.", default="")
    lot: str = key(Text(), "Lot of the material.", default="")
    dried: str = key(Text(), 'Whether and how it was dried, such as "4 h at 80 degC" or "no".', default="")
    machine: str = key(Text(), "Machine or oven.", default="")
    sources: Mapping[str, str] = key(
        Sources(),
        "Where inputs come from: path of an input, or of a table for all in it, = measured, data sheet, assumed or fitted.",
        default={},
        default_words="the sheet does not say",
    )

    def check_inputs(self, case: Case, at: At) -> None:
        """Every path in ``sources`` must lead to an input of the case, or to a table of it."""
        if not isinstance(self.sources, Mapping):
            return  # its own mistake is told already
        paths = {name for leaf in leaves(case) for name in (leaf.name, ".".join(leaf.path))}
        for path in self.sources:
            if path not in paths and not any(name.startswith(f"{path}.") for name in paths):
                (at / "sources" / path).mistake(
                    "the case has no such input", "the path of an input or of a table", nearest(path, paths)
                )


def _choices() -> str:
    return " or ".join(f'"{word}"' for word in SOURCES)


def _flat(raw: dict[str, Any], steps: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Steps in the file and word: a path may be quoted as one key, or written as dotted keys."""
    for name, entry in raw.items():
        path = (*steps, name)
        if isinstance(entry, dict) and len(path) < DEEPEST:
            yield from _flat(entry, path)
        else:
            yield path, entry
