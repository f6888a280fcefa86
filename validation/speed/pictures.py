"""Work–precision pictures: error against CPU time, both logarithmic, a curve a contender."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from thermokit.results.whole import write_whole

#: contender (the first words of its name): colour (Okabe and Ito's, which colour-blind people can tell apart), marker, line
STYLES = {
    "thermokit": ("#000000", "o", "-"),
    "CVODE, stacked": ("#0072B2", "s", "-"),
    "CVODE": ("#0072B2", "s", "--"),
    "VODE": ("#D55E00", "^", "--"),
    "LSODA": ("#009E73", "v", "-."),
    "BDF": ("#CC79A7", "D", ":"),
    "Radau": ("#E69F00", "P", ":"),
    "FiPy, PCG": ("#7A7A7A", "X", "-."),
    "FiPy": ("#7A7A7A", "x", "-"),
    "scikit-fem, linear, SDIRK2": ("#0072B2", "s", "--"),
    "scikit-fem, linear, Euler": ("#009E73", "v", "-."),
    "scikit-fem, quadratic": ("#D55E00", "^", "--"),
}
Curves = Mapping[str, Sequence[Mapping[str, Any]]]


def style(name: str) -> tuple[str, str, str]:
    """Of a contender, by the longest words that its name begins with."""
    fitting = [words for words in STYLES if name.startswith(words)]
    return STYLES[max(fitting, key=len)]


@dataclass(frozen=True)
class Panel:
    """One plot: heading, words on both axes, curves, how many of the unit of y make a second, the least error drawn."""

    heading: str
    error: str
    time: str
    curves: Curves
    times: float = 1.0
    least: float = 0.0


def draw(file: Path, title: str, panels: Sequence[Panel]) -> None:
    """A picture of panels side by side."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib.figure import Figure
    from matplotlib.ticker import LogLocator, NullFormatter

    figure = Figure(figsize=(5.0 * len(panels), 5.2), layout="constrained")
    figure.suptitle(title, fontsize=11)
    for number, panel in enumerate(panels):
        axes = figure.add_subplot(1, len(panels), number + 1)
        for name, points in panel.curves.items():
            if points:
                _curve(axes, name, points, panel)
        axes.set_xscale("log")
        axes.set_yscale("log")
        axes.invert_xaxis()
        axes.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_major_formatter(lambda value, _: f"{value:g}")
            axis.set_minor_formatter(NullFormatter())
        axes.set_title(panel.heading, fontsize=10)
        axes.set_xlabel(f"{panel.error}, smaller to the right", fontsize=9)
        axes.set_ylabel(panel.time, fontsize=9)
        axes.tick_params(labelsize=8)
        axes.grid(which="major", color="#D0D0D0", linewidth=0.6)
        axes.legend(fontsize=8, loc="upper center", bbox_to_anchor=(0.5, -0.14), ncols=2, frameon=False)
    file.parent.mkdir(parents=True, exist_ok=True)
    _save(figure, file)


def _curve(axes: Any, name: str, points: Sequence[Mapping[str, Any]], panel: Panel) -> None:
    """A contender's line with its least and most; a point is hollow unless it is thermokit's."""
    colour, marker, line = style(name)
    own = name.startswith("thermokit")
    middle, least, most = (np.array([float(p[key]) for p in points]) * panel.times for key in ("s", "least", "most"))
    axes.errorbar(
        [max(float(p["K"]), panel.least) for p in points], middle, yerr=[middle - least, most - middle],
        color=colour, marker=marker, linestyle=line, label=name, markersize=5.5, linewidth=2.0 if own else 1.2,
        elinewidth=0.8, capsize=2, markerfacecolor=colour if own else "white", zorder=3 if own else 2,
    )  # fmt: skip


def _save(figure: Any, file: Path) -> None:
    """As a PNG with a palette (a quarter of the size), without a word about the software."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from PIL import Image

    figure.set_dpi(88)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    picture = Image.fromarray(np.asarray(canvas.buffer_rgba())).convert("RGB")
    drawn = io.BytesIO()
    picture.quantize(256, dither=Image.Dither.NONE).save(drawn, "PNG", optimize=True)
    write_whole(file, drawn.getvalue())


def layered(folder: Path, name: str, words: str, found: Mapping[str, Any]) -> None:
    """P1, P2 or P3: one run, and a case of many."""
    draw(
        folder / f"work_precision_{name}.png",
        f"{name}: {words}",
        (
            Panel("one run", "largest error in any cell at any time [K]", "CPU time [ms]", found["single"], 1e3),
            Panel(
                f"many cases (thermokit: {found['cases']} in a batch)",
                f"worst error of the first {found['compared']} cases [K]",
                "CPU time a case [ms]",
                found["batch"],
                1e3,
            ),
        ),
    )


def section(folder: Path, found: Mapping[str, Any]) -> None:
    """MS: one cycle by its steps, and the settled state."""
    draw(
        folder / "work_precision_MS.png",
        "MS: a mould section with five channels",
        (
            Panel(
                "one cycle from a cold mould",
                "error of the cooling time by the steps [s]",
                "CPU time [s]",
                found["cycle"],
            ),
            Panel(
                "settled to 0.01 K", "whole error of the cooling time [s]", "CPU time [s]", found["settled"], 1.0, 1e-4
            ),
        ),
    )
