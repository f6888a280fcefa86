"""What a line must keep to: where a station ends, over all of it, and what may happen to it."""

# ruff: noqa: RUF009 (``key`` makes a dataclass field)

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.case.declare import Section, key, known
from thermokit.case.structure import Sub
from thermokit.case.stuff import TEMPERATURE
from thermokit.case.values import Choice, Number, Quantity, Text, share

if TYPE_CHECKING:
    from thermokit.case.mistakes import At
    from thermokit.conduction.problem import Number as Numeric

_DIFFERENCE = Quantity("temperature_difference", above=0.0, high=10_000.0, example="5 K")
_TIME = Quantity("time", above=0.0, high=1e7, example="5 s")
PLACES = ("face", "back", "mean")
PLACE_WORDS = {
    "face": "Face (outside of a pipe or wire)",
    "back": "Back (bore of a pipe; of a wire the covering at its conductor)",
    "mean": "Mean over the thickness (of a wire: of its covering)",
}


def _bound(place: str, least: bool) -> Any:
    return key(
        TEMPERATURE, f"{PLACE_WORDS[place]} where the station ends: at {'least' if least else 'most'} this.", default=None,
        default_words="none",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class StationLimits(Section):
    """What must be kept to where a station ends."""

    meaning = "what must be kept to where the station ends"

    face_least: Numeric | None = _bound("face", True)
    face_most: Numeric | None = _bound("face", False)
    back_least: Numeric | None = _bound("back", True)
    back_most: Numeric | None = _bound("back", False)
    mean_least: Numeric | None = _bound("mean", True)
    mean_most: Numeric | None = _bound("mean", False)
    difference: Numeric | None = key(
        _DIFFERENCE, "Face and back apart where the station ends: at most this.", default=None, default_words="none"
    )
    shell_least: Numeric | None = key(
        Quantity("length", above=0.0, high=1.0, example="0.4 mm"),
        "Frozen shell, from the outside, where the station ends: at least this.", default=None, default_words="none",
    )  # fmt: skip

    def check(self, at: At, given: frozenset[str]) -> None:
        """Least below most."""
        for place in PLACES:
            least, most = getattr(self, f"{place}_least"), getattr(self, f"{place}_most")
            if known(least, most) and least is not None and most is not None and least > most:
                (at / f"{place}_least").mistake(f"lies above {place}_most", f"{place}_least below {place}_most")


PLAIN = StationLimits()


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class HeldOnLine(Section):
    """Every place of a layer at a temperature for a time."""

    meaning = "every place of a layer at least so hot for so long"

    temperature: Numeric = key(
        TEMPERATURE, "Temperature that every place must have: a PVC coat 170 degC, common practice."
    )
    time: Numeric = key(_TIME, "For how long, all stations together: 5 to 10 s common practice.")
    layer: str | None = key(
        Text(100), "Name of the layer.", default=None, default_words="what a coat station puts on, else all layers",
        physical=False,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class LineLimits(Section):
    """What must be kept to over all of the line."""

    meaning = "what must be kept to over all of the line"

    hottest: Numeric | None = key(
        TEMPERATURE, "Hottest place at any time: at most this; what a line stop is timed against.", default=None,
        default_words="the material's caution temperature for a web or cloth, where it has one",
    )  # fmt: skip
    held: HeldOnLine | None = key(
        Sub(HeldOnLine, inline=True), "A layer so hot for so long.", default=None, default_words="none"
    )
    gel_degree: Numeric | None = key(
        share(), "Lowest degree of gelation at the end of the line: at least this.", default=None, default_words="none"
    )
    fusion_degree: Numeric | None = key(
        share(), "Lowest degree of fusion at the end of the line: at least this.", default=None, default_words="none"
    )
    heat_dose: Numeric | None = key(
        Number(above=0.0, high=1e6), "Share of the heat life used up in the hottest place: at most this.", default=None,
        default_words="0.3 (common practice) where a layer has a set for it",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class EventEntry(Section):
    """Something that happens to a line that runs steadily."""

    meaning = "something that happens to a line that runs"

    name: str = key(Text(100), "Its name.", default="", default_words="event_1, ...")
    kind: str = key(
        Choice(("stop", "water_lost", "lamps_out", "speed")),
        "stop: the line stands, lamps as their shutter and after-glow have it, the rest stays on; water_lost: baths run dry; "
        "lamps_out: lamps fail; speed: faster or slower by factor.",
    )  # fmt: skip
    station: str | None = key(
        Text(100),
        "The station that it happens to.",
        default=None,
        default_words="all that it can happen to",
        physical=False,
    )
    factor: Numeric = key(
        Number(above=0.0, high=100.0), "Speed after over speed before, for kind = \"speed\".", default=1.1,
    )  # fmt: skip
    lasts: Numeric = key(_TIME, "How long it is followed.", default=120.0)

    def unwritten(self) -> frozenset[str]:
        """A factor belongs to the speed."""
        return frozenset() if not known(self.kind) or self.kind == "speed" else frozenset({"factor"})

    def check(self, at: At, given: frozenset[str]) -> None:
        """A factor belongs to the speed."""
        if known(self.kind) and "factor" in given and self.kind != "speed":
            (at / "factor").mistake(f"{self.kind} has none", 'factor with kind = "speed"')
        if known(self.kind) and "station" in given and self.kind in ("stop", "speed"):
            (at / "station").mistake(f"{self.kind} happens to all of the line", "no station")
