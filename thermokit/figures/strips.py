"""Parts a panel into strips with a name above each: stations along the time, layers along the depth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from thermokit.figures.style import LABEL_POINTS, PANEL_POINTS, spread

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

_LETTER_POINTS = 0.56 * LABEL_POINTS  # width of a letter, in the mean
_SLANT = 35.0  # degrees


@dataclass(frozen=True)
class Strips:
    """Strips that follow one another along the x axis: their edges, in units of the axis, and their names.

    edges : (strips + 1,); names : (strips,)
    """

    edges: tuple[float, ...]
    names: tuple[str, ...]

    @property
    def slanted(self) -> bool:
        """Whether a name is wider than its strip, so that all of them must be slanted."""
        whole = self.edges[-1] - self.edges[0]
        widths = [(b - a) / whole * PANEL_POINTS for a, b in zip(self.edges[:-1], self.edges[1:], strict=True)]
        return (
            any(len(name) * _LETTER_POINTS + 4 > width for name, width in zip(self.names, widths, strict=True))
            and len(self.names) > 1
        )

    @property
    def headroom(self) -> float:
        """Room that the names need above the panel [inch]."""
        longest = max(map(len, self.names), default=0)
        return 0.3 + (0.6 * longest * _LETTER_POINTS / 72 if self.slanted else 0.0)

    def draw(self, panels: Sequence[Axes]) -> None:
        """Mark the inner edges in all panels and write the names above the first."""
        for panel in panels:
            for edge in self.edges[1:-1]:
                panel.axvline(edge, color="0.35", linewidth=0.9, linestyle=(0, (1, 2)), zorder=1.4)
        whole = self.edges[-1] - self.edges[0]
        middles = [
            ((a + b) / 2 - self.edges[0]) / whole * PANEL_POINTS
            for a, b in zip(self.edges[:-1], self.edges[1:], strict=True)
        ]
        turn: dict[str, Any] = {"ha": "center"}
        if self.slanted:
            turn = {"ha": "left", "rotation": _SLANT, "rotation_mode": "anchor"}
            middles = spread(middles, [17.0] * len(middles), PANEL_POINTS)
        for middle, name in zip(middles, self.names, strict=True):
            panels[0].annotate(
                name,
                (middle / PANEL_POINTS, 1.0),
                xycoords="axes fraction",
                xytext=(0, 4),
                textcoords="offset points",
                va="bottom",
                fontsize=LABEL_POINTS,
                color="0.2",
                **turn,
            )
