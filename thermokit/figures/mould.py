"""Pictures of a mould: its faces along the part, the shot as a bar over what the faces go through, the faces from shot to shot."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.limits import temperature_range
from thermokit.figures.style import Label, colours, curve_look, house_style, label_column, new_figure
from thermokit.results.digits import number
from thermokit.results.fields import find

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from thermokit.results.model import Result

    Drawings = dict[str, Callable[[Result], Figure]]

SIDES = ("cavity", "core")
MOMENTS = {"highest": "highest of the shot", "at_ejection": "when the mould opens", "at_touch": "when the melt comes"}
HATCHES = {"fill": "....", "hold": "////", "cooling": "", "open": "xx"}
GREYS = {"fill": "0.75", "hold": "0.55", "cooling": "0.8", "open": "0.95"}
MARKS = {"gate_freeze": "gate frozen", "runner_set": "runner set", "sprue_set": "sprue set"}


def drawings(result: Result, section: Drawings) -> Drawings:
    """What can be drawn of a mould, by kind; of another section what is given."""
    if find(result, "mould_cycle/duration") is None:
        return section
    found = {name: draw for name, draw in section.items() if name != "edges"}  # faces says that better
    found |= {"faces": draw_faces, "cycle": draw_cycle}
    if find(result, "mould_shots/cavity_face") is not None:
        found["shots"] = draw_mould_shots
    return found


def draw_faces(result: Result) -> Figure:
    """Draw the temperature [degC] of both mould faces along the part [mm]: highest, when the mould opens, when the melt comes."""
    with house_style():
        figure, axes = new_figure(result.provenance.title, 9, 0.05, [1.0, 1.0])
        every = []
        for side in SIDES:
            for moment in MOMENTS:
                field = find(result, f"mould_{side}_face/{moment}")
                if field is not None:
                    every.append(np.asarray(field.values, float))
        for panel, side in zip(axes, SIDES, strict=True):
            labels = []
            temperature_range(panel, every, [])
            for i, (moment, words) in enumerate(MOMENTS.items()):
                field = find(result, f"mould_{side}_face/{moment}")
                if field is None:
                    continue
                x, y = np.asarray(field.axes[0].values, float), np.asarray(field.values, float)
                look = curve_look(i, colours(3)[i])
                panel.plot(x, y, markevery=max(len(x) // 9, 1), **look)
                labels.append(Label(float(y[-1]), words, look))
            panel.set_ylabel(f"{side} face [°C]")
            label_column(panel, labels)
        longest = max(float(find(result, f"mould_{side}_face/at_touch").axes[0].values[-1]) for side in SIDES)  # type: ignore[union-attr]
        axes[0].set_xlim(0.0, longest)
        axes[-1].set_xlabel("way along the face from its left end [mm]")
    return figure


def draw_cycle(result: Result) -> Figure:
    """Draw the shot as a bar of its parts [s], and below it the mean of both mould faces [degC] over the shot."""
    field = find(result, "mould_cycle/duration")
    assert field is not None
    parts = dict(zip(field.axes[0].values, np.asarray(field.values, float), strict=True))
    with house_style():
        figure, axes = new_figure(result.provenance.title, 6, 0.05, [0.5, 1.0])
        _draw_bar(axes[0], parts, {o.name: o.value for o in result.outcomes})
        labels, curves = [], []
        for i, side in enumerate(SIDES):
            own = find(result, f"mould_shot/{side}_face")
            assert own is not None
            x, y = np.asarray(own.axes[0].values, float), np.asarray(own.values, float)
            look = curve_look(i, colours(2)[i])
            axes[1].plot(x, y, markevery=max(len(x) // 9, 1), **look)
            labels.append(Label(float(y[-1]), f"{side} face, mean", look))
            curves.append(y)
        temperature_range(axes[1], curves, [])
        label_column(axes[1], labels)
        axes[1].set_xlim(0.0, sum(parts.values()))
        axes[1].set_ylabel("mould face [°C]")
        axes[1].set_xlabel("time from the end of the fill [s]")
    return figure


def _draw_bar(axes: Axes, parts: dict[Any, Any], outcomes: dict[str, float | None]) -> None:
    """The parts of the cycle in their order, with what sets when above them."""
    begin, whole = 0.0, sum(parts.values())
    box = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}
    for name in ("hold", "cooling", "open", "fill"):
        length = float(parts[name])
        axes.barh(
            0.0,
            length,
            left=begin,
            height=0.8,
            color=GREYS[name],
            edgecolor="black",
            hatch=HATCHES[name],
            linewidth=0.8,
        )
        words = f"{name}\n{number(length, digits=3)} s"
        if length > 0.07 * whole:
            axes.text(begin + length / 2, 0.0, words, ha="center", va="center", fontsize=9, bbox=box)
        else:
            axes.text(begin + length / 2, -0.5, words.replace("\n", " "), ha="center", va="top", fontsize=8)
        begin += length
    height = 0.55
    for name, words in MARKS.items():
        at = outcomes.get(name)
        if at is None or at > whole:
            continue
        axes.plot([at, at], [-0.4, height], color="black", linewidth=1.2)
        axes.text(
            at, height, f" {words} {number(at, digits=3)} s", ha="left", va="bottom", fontsize=8.5, zorder=5, bbox=box
        )
        height += 0.32
    axes.set_ylim(-0.95, height + 0.3)
    axes.set_yticks([])
    axes.grid(visible=False, axis="y")
    axes.spines["left"].set_visible(False)


def draw_mould_shots(result: Result) -> Figure:
    """Draw the mean of both mould faces [degC], when the melt comes, against the number of the shot."""
    with house_style():
        figure, axes = new_figure(result.provenance.title, 6, 0.05, [1.0])
        labels, curves = [], []
        for i, side in enumerate(SIDES):
            field = find(result, f"mould_shots/{side}_face")
            if field is None:
                continue
            x, y = np.asarray(field.axes[0].values, float), np.asarray(field.values, float)
            look = curve_look(i, colours(2)[i])
            axes[0].plot(x, y, **look)
            labels.append(Label(float(y[-1]), f"{side} face, mean, when the melt comes", look))
            curves.append(y)
        temperature_range(axes[0], curves, [])
        settled = next((o.value for o in result.outcomes if o.name == "shots_to_settle"), None)
        if settled is not None and settled > 0:
            axes[0].axvline(settled, color="0.3", linestyle=(0, (6, 3)), linewidth=1.1)
            axes[0].text(
                settled,
                axes[0].get_ylim()[0],
                f" all settled to 0.5 K\n after {settled:.0f} shots",
                va="bottom",
                fontsize=8.5,
            )
        label_column(axes[0], labels)
        axes[0].set_ylabel("mould face [°C]")
        axes[0].set_xlabel("shot, from the first")
        from matplotlib.ticker import MaxNLocator

        axes[0].xaxis.set_major_locator(MaxNLocator(integer=True))
    return figure
