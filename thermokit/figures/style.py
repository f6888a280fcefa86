"""What all figures share: fonts, line styles that tell apart in black and white, the label column, saving.

Nothing here uses pyplot: it takes a second to import and keeps figures alive that nobody closes.
"""

from __future__ import annotations

import contextlib
import io
import textwrap
import warnings
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.errors import DataError
from thermokit.figures.words import spoken

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

# dash pattern and marker; the two together tell more curves apart than a figure should hold
LINES: tuple[tuple[Any, str], ...] = (
    ("-", "o"),
    ((0, (6, 2)), "s"),
    ((0, (6, 2, 1.5, 2)), "^"),
    ((0, (1.5, 1.5)), "D"),
    ((0, (10, 2, 2, 2, 2, 2)), "v"),
    ((0, (3, 3)), "P"),
    ((0, (12, 4)), "X"),
    ((0, (1, 3)), "p"),
)

_SETTINGS: dict[Any, Any] = {
    "font.size": 10,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": "0.88",
    "grid.linewidth": 0.6,
    "hatch.linewidth": 0.7,
    "lines.linewidth": 1.8,
    "lines.markersize": 5,
    "savefig.dpi": 150,
    "svg.fonttype": "none",  # text stays text: it can be searched, copied and read aloud
    "svg.hashsalt": "thermokit",  # else the ids in the file differ from run to run
    "text.parse_math": False,  # a dollar sign in a title is a dollar sign
}

LABEL_POINTS = 9.0
_WIDTH, _LEFT, _RIGHT = 9.0, 0.085, 0.725  # of the figure [inch]; of its panels, as shares of that
PANEL_POINTS = 72 * _WIDTH * (_RIGHT - _LEFT)
_LINE_POINTS = 11.5  # height of one line of label text
_LABEL_WIDTH = 26  # characters in a line of the label column


@contextlib.contextmanager
def house_style() -> Iterator[None]:
    """Drawing settings of thermokit for as long as the block lasts, whatever the user's own settings are."""
    import matplotlib

    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_SETTINGS)
        yield


def colours(count: int) -> list[Any]:
    """That many colours, dark to light: even in lightness for every reader, none too pale for white paper."""
    import matplotlib

    scale = matplotlib.colormaps["cividis"]
    return [scale(0.72 * i / max(count - 1, 1)) for i in range(count)]


def curve_look(number: int, colour: Any) -> dict[str, Any]:
    """How the curve of that number (from 0) is drawn; from the ninth on the markers are hollow."""
    dashes, marker = LINES[number % len(LINES)]
    inside = colour if number // len(LINES) % 2 == 0 else "white"
    return {"color": colour, "linestyle": dashes, "marker": marker, "markerfacecolor": inside}


def new_figure(title: str, labels: int, headroom: float, ratios: Sequence[float]) -> tuple[Figure, list[Axes]]:
    """A figure with a title, panels above each other on one x axis, and room on the right for a column of labels.

    Parameters
    ----------
    title : str
        stands above everything, in bold
    labels : int
        lines of text that the column beside the first panel must hold
    headroom : float
        room between the title and the first panel [inch]
    ratios : sequence of float
        heights of the panels, as shares of the first, which is 1

    """
    from matplotlib.figure import Figure

    heading = textwrap.wrap(spoken(title), 76, max_lines=3, placeholder=" …")
    first = max(4.0, labels * _LINE_POINTS / 72 + 0.4)
    top, bottom = 0.2 + 0.2 * len(heading) + headroom, 0.62
    whole = first * (sum(ratios) + 0.15 * (len(ratios) - 1)) + top + bottom
    figure = Figure(figsize=(_WIDTH, whole))
    axes = figure.subplots(len(ratios), 1, sharex=True, squeeze=False, height_ratios=ratios)[:, 0]
    figure.subplots_adjust(left=_LEFT, right=_RIGHT, top=1 - top / whole, bottom=bottom / whole, hspace=0.15)
    figure.text(_LEFT, 1 - 0.12 / whole, "\n".join(heading), va="top", fontsize=11.5, weight="bold")
    return figure, list(axes)


@dataclass
class Label:
    """One entry of the label column: where it points on the y axis, what it says, how its sample is drawn.

    ``tie`` orders, from below, labels that point to the same place.
    """

    y: float
    text: str
    sample: dict[str, Any] = field(default_factory=dict)
    patch: dict[str, Any] = field(default_factory=dict)
    points: bool = True
    tie: float = 0.0

    @property
    def lines(self) -> list[str]:
        """The text, broken to the width of the column."""
        return [line for part in self.text.split("\n") for line in textwrap.wrap(part, _LABEL_WIDTH)]


def last_finite(values: NDArray[np.float64]) -> float:
    """The last value that is a finite number, 0 where none is: a label needs a place even if a run broke down."""
    finite = values[np.isfinite(values)]
    return float(finite[-1]) if finite.size else 0.0


def label_column(axes: Axes, labels: Sequence[Label]) -> None:
    """Write the labels to the right of a panel, each beside what it names, none on top of another.

    A thin line leads from the value on the axis to its label; each label shows a sample of its line or hatching.
    """
    from matplotlib.lines import Line2D
    from matplotlib.patches import Rectangle

    figure: Any = axes.figure
    height = axes.get_position().height * figure.get_figheight() * 72
    low, high = axes.get_ylim()
    # what lies within about two lines' thickness counts as one place
    ordered = sorted(labels, key=lambda label: (round((label.y - low) / (high - low) * height / 5), label.tie, label.y))
    wanted = [(label.y - low) / (high - low) * height for label in ordered]
    placed = spread(wanted, [_LINE_POINTS * len(label.lines) + 3 for label in ordered], height)
    for label, anchor, y in zip(ordered, wanted, placed, strict=True):
        anchor, y = anchor / height, y / height
        common: dict[str, Any] = {"transform": axes.transAxes, "clip_on": False}
        if label.points:
            axes.add_line(Line2D([1.003, 1.035], [anchor, y], color="0.55", linewidth=0.6, **common))
        if label.patch:
            tall = 9.0 / height
            axes.add_patch(Rectangle((1.04, y - tall / 2), 0.06, tall, **({"linewidth": 0} | label.patch), **common))
        if label.sample:
            style: dict[str, Any] = {"markevery": [1]} | label.sample
            axes.add_line(Line2D([1.04, 1.07, 1.10], [y, y, y], **style, **common))
        axes.text(1.112, y, "\n".join(label.lines), va="center", fontsize=LABEL_POINTS, linespacing=1.1, **common)


def spread(wanted: Sequence[float], heights: Sequence[float], room: float) -> list[float]:
    """Places along a line for boxes of these heights: near where they want to be, in order, none overlapping.

    Neighbours that would overlap are moved as one block about the mean of what they want; where all of them together
    are higher than the room they run over its upper end.

    >>> spread([10.0, 12.0, 50.0], [10.0, 10.0, 10.0], 60.0)
    [6.0, 16.0, 50.0]
    """
    blocks: list[tuple[list[int], float]] = []  # members, lower end of the block
    for i in range(len(wanted)):
        members = [i]
        while True:
            total = sum(heights[j] for j in members)
            # the block's lower end that brings its members nearest to their wishes, in the mean
            offsets, run = [], 0.0
            for j in members:
                offsets.append(wanted[j] - run - heights[j] / 2)
                run += heights[j]
            start = max(min(sum(offsets) / len(offsets), room - total), 0.0)
            if not blocks or blocks[-1][1] + sum(heights[j] for j in blocks[-1][0]) <= start:
                break
            members = blocks.pop()[0] + members
        blocks.append((members, start))
    places = []
    for members, start in blocks:
        run = start
        for j in members:
            places.append(run + heights[j] / 2)
            run += heights[j]
    return places


def save(figure: Figure, path: str | Path) -> None:
    """Write a figure as PNG or SVG, by the end of its name, whole or not at all; the same figure gives the same bytes.

    Raises
    ------
    DataError
        the name ends in something else, or the file cannot be written

    """
    from thermokit.results.whole import write_whole

    kind = Path(path).suffix.lower().lstrip(".")
    if kind not in ("png", "svg"):
        raise DataError(f"cannot draw {path}: the name must end in .png or .svg")
    write_whole(path, drawn(figure, kind))


def drawn(figure: Figure, kind: str) -> bytes:
    """Bytes of a figure as ``png`` or ``svg``, without date or version in it."""
    content = io.BytesIO()
    with house_style(), warnings.catch_warnings():
        # a letter that the font lacks is drawn as a box; the reader sees that without a warning from the library
        warnings.filterwarnings("ignore", message="Glyph")
        blank = {"Date": None, "Creator": None} if kind == "svg" else {"Software": None}
        figure.savefig(content, format=kind, metadata=blank)
    return content.getvalue()
