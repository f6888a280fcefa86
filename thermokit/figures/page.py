"""A page of panels in true proportion: where each stands, and the words above it."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from thermokit.figures.style import LABEL_POINTS
from thermokit.figures.words import NO_BREAK, spoken

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

NOT_MET = f"NOT{NO_BREAK}MET"

# inches
_LINE = 0.165  # height of a line of text
_GAP, _BAR, _TICKS = 0.08, 0.13, 0.55  # beside a panel: air, colour bar, its numbers
_LEFT, _BOTTOM = 0.62, 0.55  # room for the numbers and names of the axes
_BESIDE = _LEFT + _GAP + _BAR + _TICKS
_PAGE, _TALLEST, _NARROWEST = 11.0, 5.2, 0.9  # width of a page, height and width of a panel
_NARROWEST_STEP = 3.0  # below which the words above a panel find no room


@dataclass(frozen=True)
class Page:
    """A page of plans of one proportion under a title: where each panel stands.

    columns, rows : of panels; wide, high : of a panel [inch]; key : text at the foot; above : for each row, how many lines
    of text stand above its panels
    """

    columns: int
    rows: int
    wide: float
    high: float
    title: str
    key: str
    above: tuple[int, ...] = ()

    @classmethod
    def of(cls, count: int, proportion: float, title: str, key: str, columns: int | None = None) -> Page:
        """Where so many plans of that proportion (width over length) stand best on a landscape page."""
        columns = min(columns or (2 if proportion <= 1.15 else 4), count)
        wide = _PAGE / columns - _BESIDE
        high = wide * proportion
        if high > _TALLEST:
            wide, high = max(_TALLEST / proportion, _NARROWEST), _TALLEST
        return cls(columns, -(-count // columns), wide, high, title, key)

    @property
    def text_width(self) -> float:
        """Width that text above a panel may take [inch]."""
        return self.step - _LEFT - 0.05

    def lines(self, head: str, paragraphs: Sequence[str]) -> list[tuple[str, bool]]:
        """Lines above a panel, and whether each is bold: the head and what is not met are."""
        found = []
        for paragraph in (head, *paragraphs):
            bold = paragraph is head or NOT_MET in paragraph
            found += [(line, bold) for line in wrapped(paragraph, self.text_width / (1.17 if bold else 1.0))]
        return found

    def with_lines(self, counts: Sequence[int]) -> Page:
        """The page with room for so many lines above each panel."""
        rows = (counts[row * self.columns : (row + 1) * self.columns] for row in range(self.rows))
        return replace(self, above=tuple(max(row) for row in rows))

    @property
    def step(self) -> float:
        """From one panel to the next on its right [inch]."""
        return max(self.wide + _BESIDE, _NARROWEST_STEP)

    def _top(self, row: int) -> float:
        """From the upper edge of the page to the panels of that row [inch]; of the row after the last, to its words."""
        words = sum(self.above[: row + 1]) * _LINE
        return 0.2 * len(self.heading) + 0.2 + words + 0.15 + row * (self.high + _BOTTOM + 0.15)

    @property
    def heading(self) -> list[str]:
        """The title, broken to the width of the page."""
        return textwrap.wrap(spoken(self.title), int(8 * self.size_along), max_lines=3, placeholder=" …")

    @property
    def footing(self) -> list[str]:
        """The key, broken to the width of the page."""
        return wrapped(self.key, self.size_along - _LEFT - 0.2)

    @property
    def size_along(self) -> float:
        """Width of the figure [inch]."""
        return self.columns * self.step

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the figure [inch]."""
        return self.size_along, self._top(self.rows) + _LINE * len(self.footing)

    def figure(self) -> Figure:
        """The page with its title and key, still without panels."""
        from matplotlib.figure import Figure

        figure = Figure(figsize=self.size)
        wide, high = self.size
        left = _LEFT / wide
        figure.text(left, 1 - 0.12 / high, "\n".join(self.heading), va="top", fontsize=11.5, weight="bold")
        figure.text(left, 0.1 / high, "\n".join(self.footing), va="bottom", fontsize=LABEL_POINTS, color="0.25")
        return figure

    def panel(self, figure: Figure, number: int) -> Axes:
        """Axes of the panel of that number, row by row from 0."""
        return self._axes(figure, number, 0.0, self.wide)

    def bar(self, figure: Figure, number: int) -> Axes:
        """Axes of the colour bar beside that panel."""
        return self._axes(figure, number, self.wide + _GAP, _BAR)

    def _axes(self, figure: Figure, number: int, along: float, wide: float) -> Axes:
        """Axes as high as a panel, so far right of its left edge [inch]."""
        row, column = divmod(number, self.columns)
        whole_wide, whole_high = self.size
        left = column * self.step + _LEFT + along
        bottom = whole_high - self._top(row) - self.high
        return figure.add_axes((left / whole_wide, bottom / whole_high, wide / whole_wide, self.high / whole_high))


def write_above(panel: Axes, lines: Sequence[tuple[str, bool]]) -> None:
    """Write lines, some of them bold, right above a panel."""
    words: dict[str, Any] = {"xycoords": "axes fraction", "textcoords": "offset points", "ha": "left", "va": "bottom"}
    for line, (text, bold) in enumerate(lines):
        look: dict[str, Any] = {"weight": "bold" if bold else "normal", "fontsize": LABEL_POINTS}
        panel.annotate(text, (0.0, 1.0), xytext=(0, 5 + 72 * _LINE * (len(lines) - 1 - line)), **words, **look)


def wrapped(text: str, wide: float) -> list[str]:
    """Text broken into lines that fit that width [inch]."""
    return textwrap.wrap(text, max(int(wide * 72 / (0.57 * LABEL_POINTS)), 20))


def height(axes: Axes) -> float:
    """Height of a panel [inch]."""
    figure: Any = axes.figure
    return float(axes.get_position().height * figure.get_figheight())


def width(axes: Axes) -> float:
    """Width of a panel [inch]."""
    figure: Any = axes.figure
    return float(axes.get_position().width * figure.get_figwidth())
