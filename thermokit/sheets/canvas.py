"""What a page of PDF is gathered on: words broken to a width, boxes, rows of cells and columns, from the top downwards.

Lengths are points (1/72 inch), from the upper left corner of the page.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from thermokit.sheets.page import Picture

MARGIN, GAP = 28.0, 14.0  # of the page, between columns
_LEADING = 1.22
_SOFT = "0.22"


class Measure:
    """Widths of words, each measured once."""

    def __init__(self) -> None:
        from matplotlib.textpath import TextToPath

        self._paths, self._widths = TextToPath(), dict[tuple[str, bool], float]()

    def width(self, text: str, size: float, bold: bool = False) -> float:
        """Width of a text on one line."""
        return sum(self._one(word, bold) for word in text.split(" ")) * size + 0.318 * size * text.count(" ")

    def _one(self, word: str, bold: bool) -> float:
        """Width of a word in letters of one point."""
        if (word, bold) not in self._widths:
            from matplotlib.font_manager import FontProperties

            font = FontProperties(size=100, weight="bold" if bold else "normal")
            self._widths[word, bold] = self._paths.get_text_width_height_descent(word, font, False)[0] / 100.0
        return self._widths[word, bold]

    def lines(self, text: str, size: float, wide: float, bold: bool = False) -> list[str]:
        """A text broken into lines; a word that is wider than the line is broken anywhere."""
        found: list[str] = []
        line = ""
        for word in text.split(" "):
            longer = f"{line} {word}" if line else word
            if self.width(longer, size, bold) <= wide:
                line = longer
                continue
            if line:
                found.append(line)
            while len(word) > 1 and self.width(word, size, bold) > wide:
                cut = max(int(len(word) * wide / self.width(word, size, bold)) - 1, 1)
                found.append(word[:cut])
                word = word[cut:]
            line = word
        return [*found, line]


@dataclass
class Canvas:
    """What is to be drawn, gathered from the top downwards: texts, lines and places of pictures; ``y`` is where it goes on."""

    measure: Measure
    size: float
    wide: float
    share: float = 1.0
    y: float = MARGIN
    texts: list[tuple[float, float, str, float, bool, str]] = field(default_factory=list)
    lines: list[tuple[float, float, float, float, float]] = field(default_factory=list)
    pictures: list[tuple[float, float, float, Picture]] = field(default_factory=list)

    @property
    def step(self) -> float:
        """Height of a line."""
        return self.size * _LEADING

    def put(
        self, x: float, wide: float, text: str, *, size: float = 0.0, bold: bool = False, soft: bool = False
    ) -> None:
        """A paragraph."""
        size = size or self.size
        for line in self.measure.lines(text, size, wide, bold):
            self.texts.append((x, self.y + size, line, size, bold, _SOFT if soft else "0.0"))
            self.y += size * _LEADING

    def rule(self, x: float, wide: float, thick: float = 0.5) -> None:
        """A line across a column, where the writing has got to."""
        self.lines.append((x, self.y + 1.0, x + wide, self.y + 1.0, thick))
        self.y += 2.0

    def head(self, x: float, wide: float, text: str) -> None:
        """A heading with a rule under it."""
        self.y += 0.35 * self.size
        self.put(x, wide, text, size=1.08 * self.size, bold=True)
        self.rule(x, wide)

    def box(self, x: float, top: float, wide: float, thick: float) -> None:
        """A frame from ``top`` to where the writing has got to."""
        low = self.y + 3.0
        for line in (
            (x, top, x + wide, top),
            (x, low, x + wide, low),
            (x, top, x, low),
            (x + wide, top, x + wide, low),
        ):
            self.lines.append((*line, thick))
        self.y = low + 3.0

    def cells(self, x: float, widths: Sequence[float], texts: Sequence[str], bold: Sequence[bool]) -> None:
        """A row of cells, each broken to its width."""
        top, low = self.y, self.y
        for wide, text, heavy in zip(widths, texts, bold, strict=True):
            self.y = top
            self.put(x, wide - 4.0, text, bold=heavy)
            low = max(low, self.y)
            x += wide
        self.y = low

    def columns(self, parts: Sequence[Callable[[float, float], None]], x: float, wide: float) -> None:
        """Parts side by side, each given its place and width; it goes on below the longest."""
        top, low = self.y, self.y
        each = (wide - GAP * (len(parts) - 1)) / len(parts)
        for i, part in enumerate(parts):
            self.y = top
            part(x + i * (each + GAP), each)
            low = max(low, self.y)
        self.y = low
