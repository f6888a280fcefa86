"""The answer of a dwell search: the window with its reasons, and what moves it; as the JSON block too."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from thermokit.studies.sought import Scale

if TYPE_CHECKING:
    from thermokit.studies.tolerance import Shares


@dataclass(frozen=True)
class Margin:
    """A margin at the recommended value: of a limit in K (or 1), or to an ``edge`` of the window in the unit of what is sought."""

    limit: str
    value: float
    unit: str
    edge: bool = False


@dataclass(frozen=True)
class HandCheck:
    """The hand formula beside the answer: value [SI], the formula, and why the two differ."""

    value: float
    formula: str
    why_different: str


@dataclass(frozen=True)
class Shift:
    """The window after one change at the machine: words, earliest and latest [SI] (None without)."""

    change: str
    earliest: float | None
    latest: float | None


@dataclass(frozen=True)
class Dwell:
    """The answer, in SI; ``scale`` says what is sought and how it is shown.

    earliest, latest : smallest and largest value that meets every limit; nearest : the setting that comes nearest to a
    window where there is none; notes : what else must be said beside the result.
    """

    station: str
    path: str
    earliest: float | None
    latest: float | None
    recommended: float | None
    earliest_limit: str | None
    latest_limit: str | None
    margins: tuple[Margin, ...]
    opens_with: str | None
    hand: HandCheck | None
    shifts: tuple[Shift, ...]
    shares: Shares | None
    low: float
    high: float
    nearest: float
    edges: tuple[Any, ...] = ()
    scale: Scale = field(default_factory=Scale)
    notes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """The ``dwell`` block of the JSON object, in the unit that is shown."""
        unit, shown = self.scale.unit, self.scale.shown
        out: dict[str, Any] = {
            "station": self.station,
            "earliest": shown(self.earliest),
            "latest": shown(self.latest),
            "recommended": shown(self.recommended),
            "unit": unit,
            "earliest_limit": self.earliest_limit,
            "latest_limit": self.latest_limit,
            "margins": [{"limit": m.limit, "value": m.value, "unit": m.unit} for m in self.margins],
            "opens_with": self.opens_with,
            "hand": None
            if self.hand is None
            else {
                "value": shown(self.hand.value),
                "unit": unit,
                "formula": self.hand.formula,
                "why_different": self.hand.why_different,
            },
            "shifts": [
                {"change": s.change, "earliest": shown(s.earliest), "latest": shown(s.latest), "unit": unit}
                for s in self.shifts
            ],
            "searched": {"from": shown(self.low), "to": shown(self.high), "unit": unit},
        }
        if self.shares is not None and self.recommended is not None:
            good, broken = self.shares.at(self.recommended)
            out["parts"] = {"inside": good, "breaking": broken, "draws": self.shares.draws, "seed": self.shares.seed}
        return out
