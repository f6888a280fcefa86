"""The tool from shot to shot: its face when the sheet touches it and at release, and how hot the sheet is let go."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.figures.limits import draw_limits, temperature_limits, temperature_range
from thermokit.figures.strips import Strips
from thermokit.figures.style import Label, colours, curve_look, house_style, label_column, last_finite, new_figure
from thermokit.figures.words import quantity, spoken
from thermokit.results.fields import find, group_of, short_name

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from thermokit.results.model import Field, Result

    Array = NDArray[np.float64]

# fields of the tool are called so, and where there are more tools ``touch_temperature_mould``
_MOMENTS = {"touch_temperature": "as the sheet touches it", "release_temperature": "at release"}
_SETTLED_NAME = re.compile("settled_(.+)_temperature")
_SHEET = "shots/hottest_at_release"
_SETTLED: dict[str, Any] = {"color": "0.3", "linestyle": (0, (9, 3)), "linewidth": 1.1}


def has_shots(result: Result) -> bool:
    """Whether the result holds what this figure draws."""
    return bool(_tool_fields(result))


def draw_shots(result: Result) -> Figure:
    """Draw the tool's face [°C] against the number of the shot, with its settled value and the shots that takes.

    Below it, where the result holds it, the hottest plane of the sheet at release with its limit.
    """
    fields = _tool_fields(result)
    settled, after = _settled(result), _shots_until_settled(result)
    shot = np.asarray(fields[0].axes[0].values, dtype=np.float64)
    drawn = _telling_shots(fields, after)
    sheet = find(result, _SHEET)
    limits = temperature_limits(replace(result, limits=tuple(c for c in result.limits if _on_sheet(c.name))))
    strips = _strips(shot[drawn], after, last=shot[-1])
    with house_style():
        lines = 4 * len(fields) + 3
        figure, axes = new_figure(result.provenance.title, lines, strips.headroom, [1.0, 0.8] if sheet else [1.0])
        axes[0].set_xlim(strips.edges[0], strips.edges[-1])
        curves = [(_spoken_tool(field), np.asarray(field.values, dtype=np.float64)) for field in fields]
        temperature_range(axes[0], [*(values for _, values in curves), np.array(list(settled.values()))], [])
        labels = _draw_curves(axes[0], shot, curves, drawn)
        for name, value in settled.items():
            axes[0].axhline(value, zorder=2, **_SETTLED)
            labels.append(Label(value, f"{spoken(name)} settled at {quantity(value, 'degC')}", _SETTLED))
        label_column(axes[0], labels)
        axes[0].set_ylabel("tool face [°C]")
        if sheet is not None:
            values = np.asarray(sheet.values, dtype=np.float64)
            temperature_range(axes[1], [values], limits)
            labels = draw_limits(axes[1], limits)
            labels += _draw_curves(axes[1], shot, [(sheet.meaning, values)], drawn)
            label_column(axes[1], labels)
            axes[1].set_ylabel("sheet [°C]")
        strips.draw(axes)
        _number_shots(axes[-1])
    return figure


def _tool_fields(result: Result) -> list[Field]:
    """Temperatures of tools against the shot, in the order of the result."""
    return [
        field
        for field in result.fields
        if group_of(field) == "shots" and len(field.axes) == 1 and short_name(field).startswith(tuple(_MOMENTS))
    ]


def _on_sheet(name: str) -> bool:
    """Whether a limit of that name holds for the sheet at release."""
    return name == "release_temperature"


def _spoken_tool(field: Field) -> str:
    """``touch_temperature_mould`` as it is drawn."""
    moment = next(moment for moment in _MOMENTS if short_name(field).startswith(moment))
    return f"{spoken(short_name(field).removeprefix(moment)) or 'tool'} face {_MOMENTS[moment]}"


def _outcome(result: Result, name: str) -> float | None:
    """Value of an outcome, None where there is none."""
    return next((outcome.value for outcome in result.outcomes if outcome.name == name), None)


def _settled(result: Result) -> dict[str, float]:
    """Settled temperature [degC] of each tool that has one (outcomes ``settled_..._temperature``)."""
    found = {}
    for outcome in result.outcomes:
        name = _SETTLED_NAME.fullmatch(outcome.name)
        if name and outcome.value is not None and outcome.unit == "degC" and np.isfinite(outcome.value):
            found[name[1]] = outcome.value
    return found


def _shots_until_settled(result: Result) -> int | None:
    """Shots until the tool is settled, from an outcome or from what a study adds."""
    found: Any = _outcome(result, "shots_until_settled")
    if found is None:
        blocks = [block for block in result.study.values() if isinstance(block, dict)]
        found = next((block["shots_until_settled"] for block in blocks if "shots_until_settled" in block), None)
    return None if found is None or not np.isfinite(found) else int(found)


def _telling_shots(fields: Sequence[Field], after: int | None) -> slice:
    """The first shots, up to where nothing happens any more: thousands of settled ones would hide the warming up."""
    values = np.array([field.values for field in fields], dtype=np.float64)
    count = values.shape[1]
    far = np.abs(values - values[:, -1:]).max(axis=0) > 0.01 * np.ptp(values)
    moving = int(np.flatnonzero(far)[-1]) + 1 if far.any() else 0
    shown = max(3 * (after or 0), 2 * moving, 20)
    return slice(0, shown if shown < count / 2 else count)


def _strips(shot: Array, after: int | None, last: float) -> Strips:
    """Warming up and settled, as strips along the shots that are drawn; the last that there is may lie beyond them."""
    left, right = float(shot[0]) - 0.5, float(shot[-1]) + 0.5
    rest = f", on to shot {last:g}" if last > right else ""
    if after is None:
        return Strips((left, right), (f"alike from shot {shot[-1]:g}{rest}" if rest else "",))
    if after < left + 1:
        return Strips((left, right), (f"settled from the first shot{rest}",))
    count = f"{after} shot{'s' if after != 1 else ''}"
    if after + 0.5 >= right:
        return Strips((left, right), (f"not yet settled: that takes {count}",))
    return Strips((left, after + 0.5, right), ("warming up", f"settled after {count}{rest}"))


def _draw_curves(axes: Axes, shot: Array, curves: Sequence[tuple[str, Array]], drawn: slice) -> list[Label]:
    labels = []
    count = len(shot[drawn])
    every = max(count // 10, 1) if count > 40 else 1
    for i, ((name, values), colour) in enumerate(zip(curves, colours(len(curves)), strict=True)):
        look = curve_look(i, colour) | {"markersize": 4}
        axes.plot(shot[drawn], values[drawn], markevery=((i * every) // len(curves), every), zorder=2.5, **look)
        ends = f"shot {shot[0]:g}: {quantity(float(values[0]), 'degC')}"
        if len(shot) > 1:
            ends += f"\nshot {shot[-1]:g}: {quantity(float(values[-1]), 'degC')}"
        labels.append(Label(last_finite(values[drawn]), f"{name}\n{ends}", look))
    return labels


def _number_shots(axes: Axes) -> None:
    from matplotlib.ticker import MaxNLocator

    axes.xaxis.set_major_locator(MaxNLocator(nbins=12, steps=[1, 2, 5, 10], integer=True, min_n_ticks=1))
    axes.set_xlabel("number of the shot")
