"""Fields made from formulas, so that maps, shots and zones can be stored and drawn without a solver."""

from __future__ import annotations

import numpy as np
from exact_results import sheet_result

from thermokit.results.model import Axis, Field, LimitCheck, Outcome

WHEN = "when the sheet reaches the tool"


def plan_axes(length=600.0, width=400.0, columns=30, rows=20):
    """Spots in the middle of equal cells, counted from the sheet's middle [mm]: across the width, along the length."""
    return (
        Axis("y", "mm", ((np.arange(rows) + 0.5) / rows - 0.5) * width, "place across the width"),
        Axis("x", "mm", ((np.arange(columns) + 0.5) / columns - 0.5) * length, "place along the length"),
    )


def plan_field(name, axes, crown, middle, edge=18.0, cold=0.0, meaning=""):
    """Middle [degC] less a cosine's fall towards the rim [K], less the frame's cooling, less a cold spot [K]."""
    y, x = (axis.values for axis in axes)
    length, width = (2 * np.abs(v).max() * len(v) / max(len(v) - 1, 1) or 500.0 for v in (x, y))
    x, y = x[None, :] + length / 2, y[:, None] + width / 2
    bulge = np.cos(np.pi * (x / length - 0.5)) * np.cos(np.pi * (y / width - 0.5))
    rim = np.minimum(np.minimum(x, length - x), np.minimum(y, width - y))
    spot = np.exp(-(((x - 0.7 * length) / (0.15 * length)) ** 2) - ((y - 0.3 * width) / (0.2 * width)) ** 2)
    values = middle - crown * (1 - bulge) - edge * np.exp(-rim / 15.0) - cold * spot
    return Field(f"map/{name}", tuple(axes), "degC", values, meaning)


def map_fields(cold=0.0, edge=18.0, lift=0.0, **axes):
    plan = plan_axes(**axes)
    common = {"axes": plan, "cold": cold, "edge": edge}
    through = "through the thickness " + WHEN
    return (
        plan_field("coldest_point", crown=9, middle=146 + lift, meaning=f"coldest point {through}", **common),
        plan_field("mean_temperature", crown=8, middle=155 + lift, meaning=f"mean {through}", **common),
        plan_field("hottest_face", crown=10, middle=187 + lift, meaning="hotter face at any time", **common),
        plan_field("upper_face", crown=9, middle=172 + lift, meaning=f"upper face {WHEN}", **common),
        plan_field("lower_face", crown=7, middle=166 + lift, meaning=f"lower face {WHEN}", **common),
    )


def map_limits(least=127.0, most=182.0, spread=10.0, fields=None):
    fields = fields or map_fields()
    low, mean, high = (fields[i].values for i in range(3))
    found = float(np.ptp(mean))
    return (
        LimitCheck(
            "coldest_point", f"at least {least:g} degC", low.min(), "degC", low.min() - least, bool(low.min() >= least)
        ),
        LimitCheck(
            "hottest_face", f"at most {most:g} degC", high.max(), "degC", most - high.max(), bool(high.max() <= most)
        ),
        LimitCheck("map_spread", f"at most {spread:g} K", found, "K", spread - found, found <= spread),
    )


def shot_fields(count=50, ratio=0.82, start=25.0, settled=68.0, swing=9.0, hot=True):
    """A tool that warms up shot by shot: a geometric approach to its settled state."""
    shot = Axis("shot", "1", np.arange(1, count + 1), "number of the shot")
    rise = 1 - ratio ** np.arange(count)
    touch = start + (settled - start) * rise
    fields = [
        Field("shots/touch_temperature", (shot,), "degC", touch, "tool face when the sheet touches it"),
        Field("shots/release_temperature", (shot,), "degC", touch + swing, "tool face at release"),
    ]
    if hot:
        fields.append(
            Field("shots/hottest_at_release", (shot,), "degC", 62 + 26 * rise, "hottest plane of the sheet at release")
        )
    return tuple(fields)


SHOT_OUTCOMES = (
    Outcome("settled_tool_temperature", 68.0, "degC", "tool face when the sheet touches it, settled"),
    Outcome("shots_until_settled", 21.0, "1", "shots until the tool stays within 1 K of its settled state"),
)
RELEASE = LimitCheck("release_temperature", "at most 85 degC", 88.0, "degC", -3.0, False)


def zone_fields(rows=4, columns=6, unit="degC", lower=True, dead=(0, 2), plan=True):
    """Zones all at one setting; after: the outer ones higher, by a formula; one dead; the map by another formula."""
    axes = (
        Axis("row", "1", np.arange(1, rows + 1), "row of zones across the width"),
        Axis("column", "1", np.arange(1, columns + 1), "column of zones along the length"),
    )
    r = np.abs(2 * (np.arange(rows) + 0.5) / rows - 1)[:, None]
    c = np.abs(2 * (np.arange(columns) + 0.5) / columns - 1)[None, :]
    base, gain = (400.0, 55.0) if unit == "degC" else (55.0, 22.0)
    out = []
    for side, shift in (("upper", 0.0), ("lower", -0.05 * base)) if lower else (("upper", 0.0),):
        before, after = np.full((rows, columns), base + shift), base + shift + gain * (r**2 + c**2 - 0.5)
        if dead is not None and side == "upper":
            before[dead] = after[dead] = np.nan
        out.append(Field(f"zones/{side}_before", axes, unit, before, f"settings of the {side} zones before"))
        out.append(Field(f"zones/{side}_after", axes, unit, np.round(after), f"settings of the {side} zones after"))
    if plan:
        there = plan_axes()
        before = plan_field("x", there, crown=11, middle=156, edge=10, cold=9)
        after = plan_field("x", there, crown=2, middle=153, edge=8, cold=4)
        words = "mean through the thickness " + WHEN
        out.append(Field("zones/map_before", there, "degC", before.values, words + ", before"))
        out.append(Field("zones/map_after", there, "degC", after.values, words + ", after"))
    return tuple(out)


def tool_field(name="mould", cells=8):
    """A tool that joins at 62 s and warms from its face."""
    time, depth = np.linspace(0, 70, 141), (np.arange(cells) + 0.5) * 12 / cells
    rise = 20 * np.sqrt(np.maximum(time - 62, 0) / 8)
    values = 45 + rise[:, None] * np.exp(-depth / 4)
    values[time < 62] = np.nan
    axes = (Axis("time", "s", time, "time"), Axis("tool_depth", "mm", depth, "depth from the tool's face"))
    return Field(f"tool/{name}_temperature", axes, "degC", values, f"temperature of {name}")


def full_result(**changes):
    """A sheet's result with every kind of field."""
    fields = (*map_fields(cold=14.0), *shot_fields(), *zone_fields(), tool_field())
    r = sheet_result()
    facts = {
        "fields": fields,
        "outcomes": (*r.outcomes, *SHOT_OUTCOMES),
        "limits": (*map_limits(fields=fields), RELEASE),
    }
    return sheet_result(**(facts | changes))
