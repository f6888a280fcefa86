"""Evened-out zones as they are kept: the block of the JSON object, and the tables and maps of the result file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.processes import sheet_places
from thermokit.results.model import Axis, Field
from thermokit.studies.zones_words import limited_by, spoken_place
from thermokit.units import ZERO_CELSIUS

if TYPE_CHECKING:
    from thermokit.studies.zone_sheet import Plan
    from thermokit.studies.zone_table import PanelSettings
    from thermokit.studies.zones import Zones


def study(found: Zones) -> dict[str, Any]:
    """The ``zones`` block of the JSON object."""
    block: dict[str, Any] = {
        "reached": found.reached,
        "spread_before": found.plans[0].spread,
        "spread_after": found.plans[1].spread,
        "unit": "K",
        "target": _degrees(found.target),
        "dwell": None if found.dwell is None else {"value": found.dwell, "unit": "s"},
        "before": _plan(found, found.plans[0]),
        "after": _plan(found, found.plans[1]),
        "panels": [_panel(panel) for panel in found.panels],
        "limited_by": limited_by(found),
        "without": {
            trial.without: {"spread": _kelvins(trial.spread), "mean": _degrees(trial.mean), "settings": trial.settings}
            for trial in found.trials
        },
        "search": {"steps": found.steps},
    }
    for word, window in zip(("before", "after"), found.windows, strict=True):
        if window is not None:
            block[f"window_{word}"] = {
                "earliest": window.earliest, "latest": window.latest, "unit": "s",
                "earliest_limit": window.earliest_limit, "latest_limit": window.latest_limit,
            }  # fmt: skip
    return {"zones": block}


def _plan(found: Zones, plan: Plan) -> dict[str, Any]:
    coldest, hottest = int(np.argmin(plan.mean)), int(np.argmax(plan.mean))
    return {
        "spread": _kelvins(plan.spread),
        "standard_deviation": _kelvins(plan.mean.std()),
        "face_difference": _kelvins(np.max(np.abs(plan.apart))),
        "mean": _degrees(plan.mean.mean()),
        "coldest": _degrees(plan.mean[coldest]) | {"where": spoken_place(found, coldest)},
        "hottest": _degrees(plan.mean[hottest]) | {"where": spoken_place(found, hottest)},
    }


def _degrees(kelvin: float) -> dict[str, Any]:
    return {"value": float(kelvin) - ZERO_CELSIUS, "unit": "degC"}


def _kelvins(difference: float) -> dict[str, Any]:
    return {"value": float(difference), "unit": "K"}


def _panel(panel: PanelSettings) -> dict[str, Any]:
    def rows(values: Any) -> list[list[float | None]]:
        return [[float(x) if np.isfinite(x) else None for x in row] for row in values]

    return {
        "station": panel.station,
        "side": panel.side,
        "unit": panel.unit,
        "before": rows(panel.before),
        "after": rows(panel.after),
        "at_bound": [
            {"row": i + 1, "column": j + 1, "bound": word}
            for i, row in enumerate(panel.at_bound)
            for j, word in enumerate(row)
            if word
        ],
    }


def fields(found: Zones) -> tuple[Field, ...]:
    """Settings of the panels, and the mean over the sheet, before and after.

    Those of the first station that is set stand in the group ``zones``, of any other in ``zones_2``, ...; a panel whose
    zones are not as many as those of the one before has axes of its own.
    """
    stations = list(dict.fromkeys(panel.station for panel in found.panels))
    out = []
    for i, station in enumerate(stations):
        group = "zones" if i == 0 else f"zones_{i + 1}"
        own = [panel for panel in found.panels if panel.station == station]
        for panel in own:
            axes = _axes(panel, "" if panel.before.shape == own[0].before.shape else f"{panel.side}_")
            words = f"settings of the {panel.side} zones of station {station}"
            out.append(Field(f"{group}/{panel.side}_before", axes, panel.unit, panel.before, f"{words}, before"))
            out.append(Field(f"{group}/{panel.side}_after", axes, panel.unit, panel.after, f"{words}, after"))
    whole = sheet_places.spots(found.case)
    assert whole is not None and found.case.map_spots is not None
    columns, rows = found.case.map_spots
    plan = (
        Axis("y", "mm", 1e3 * whole.y.reshape(rows, columns)[:, 0], "across the sheet, from its middle"),
        Axis("x", "mm", 1e3 * whole.x.reshape(rows, columns)[0], "along the sheet, from its middle"),
    )
    for word, values in zip(("before", "after"), found.plans, strict=True):
        table = values.mean.reshape(rows, columns) - ZERO_CELSIUS
        out.append(Field(f"zones/map_{word}", plan, "degC", table, f"mean through the thickness at the tool, {word}"))
    return tuple(out)


def _axes(panel: PanelSettings, prefix: str) -> tuple[Axis, Axis]:
    rows, columns = panel.before.shape
    return (
        Axis(f"{prefix}row", "1", np.arange(1, rows + 1), "row of zones across the width"),
        Axis(f"{prefix}column", "1", np.arange(1, columns + 1), "column of zones along the length"),
    )
