"""Evened-out zones in words, for the setter: the table of settings, what it brings, and what stands in the way of more."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case.sheet_stations import PanelsStation
from thermokit.processes import sheet_places
from thermokit.processes.sheet import ALL, SheetProcess
from thermokit.results.digits import number
from thermokit.results.summary import warnings
from thermokit.stations.panels import sight
from thermokit.units import ZERO_CELSIUS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from thermokit.studies.window import Window
    from thermokit.studies.zone_table import PanelSettings
    from thermokit.studies.zones import Zones

WIDTH = 100
CELL = 7  # characters of a setting with its mark
MARKS = {"highest": "^", "lowest": "v", "full": "!", "off": "o"}
MARK_WORDS = {
    "highest": "^ at the highest that is allowed",
    "lowest": "v at the lowest that is allowed",
    "full": "! all its power is on",
    "off": "o off: its neighbours keep it hotter",
}
FEW = 6  # zones that are named one by one
BETTER = 0.5  # K of spread that are worth telling


def _filled(text: str, first: str = "  ", rest: str = "  ") -> str:
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)


def zones_text(found: Zones, file: Any = None) -> str:
    """The printed answer; file : the new case, None where none is written."""
    result = found.result
    lines = [*textwrap.wrap(result.provenance.title or "Zones", WIDTH), ""]
    lines.append(_filled(_asked(found), "", ""))
    for panel in found.panels:
        lines += ["", *_settings(panel)]
    marks = [words for word, words in MARK_WORDS.items() if any(panel.count(word) for panel in found.panels)]
    if marks:
        lines += ["", _filled("; ".join(marks))]
    lines += ["", *_sheet(found)]
    lines += ["", "What limits it", *(_filled(text) for text in limited_by(found))]
    if found.windows[1] is not None:
        lines += ["", "The dwell", *_windows(found)]
    broken = [c for c in result.limits if not c.met]
    if broken:
        lines += ["", "Limits that are not met with the new settings"]
        for check in broken:
            value = "not reached" if check.found is None else f"{number(check.found, check.unit)} {check.unit}"
            lines.append(_filled(f"{check.name}: {check.required}, found {value} ({check.where})", "  ", "    "))
    for head, texts in (("Warnings", warnings(result)), ("Cautions", result.cautions)):
        if texts:
            lines += ["", head, *(_filled(text, "  - ", "    ") for text in texts)]
    if file is None:
        lines += ["", "Nothing is written: -o NEW_CASE.toml writes the case with these settings."]
    return "\n".join(lines)


def _asked(found: Zones) -> str:
    text = (
        f"Target {_degrees(found.target)} in the mean over the sheet, through its thickness, when it reaches the tool."
    )
    if found.dwell is not None:
        text += f" Dwell {found.dwell:.1f} s: with the settings as they were, the mean of the sheet then comes to the target."
    return text


def _degrees(kelvin: float) -> str:
    return f"{kelvin - ZERO_CELSIUS:.1f} degC"


# -- settings ----------------------------------------------------------------------------------------------------------


def _settings(panel: PanelSettings) -> Iterator[str]:
    """Both tables side by side where they fit, one under the other where not, in pieces where a row is too long."""
    columns = panel.before.shape[1]
    yield f"{panel.station}, {panel.side} panel [{panel.unit}]: rows across the width, columns along the length"
    plain = tuple(tuple("dead" if word == "dead" else "" for word in row) for row in panel.at_bound)
    if 2 * (4 + CELL * columns) + 4 <= WIDTH:
        left = _table(panel.before, plain, range(columns), "before")
        right = _table(panel.after, panel.at_bound, range(columns), "after")
        wide = max(map(len, left))
        for one, other in zip(left, right, strict=True):
            yield f"  {one:<{wide}}  {other}".rstrip()
        return
    most = (WIDTH - 6) // CELL
    for begin in range(0, columns, most):
        some = range(begin, min(begin + most, columns))
        for values, words, head in ((panel.before, plain, "before"), (panel.after, panel.at_bound, "after")):
            yield from (f"  {line}".rstrip() for line in _table(values, words, some, head))


def _table(values: Any, words: Any, columns: range, head: str) -> list[str]:
    digits = 0 if np.nanmax(np.abs(values - np.round(values)), initial=0.0) < 1e-6 else 1
    lines = [head, "    " + "".join(f"{c + 1:>{CELL - 1}} " for c in columns)]
    for r, row in enumerate(values):
        cells = []
        for c in columns:
            word = words[r][c]
            text = "dead" if word == "dead" else f"{row[c]:.{digits}f}"
            cells.append(f"{text:>{CELL - 1}}{MARKS.get(word, ' ')}")
        lines.append(f"{r + 1:>3} " + "".join(cells))
    return lines


# -- the sheet ---------------------------------------------------------------------------------------------------------


def place_of(found: Zones, spot: int) -> tuple[float, float]:
    """Place of a spot from the middle of the sheet, along and across [m]."""
    whole = sheet_places.spots(found.case)
    assert whole is not None
    return float(whole.x[spot]), float(whole.y[spot])


def spoken_place(found: Zones, spot: int) -> str:
    """The same in words."""
    x, y = place_of(found, spot)
    return f"{1e3 * x:+.0f} mm along, {1e3 * y:+.0f} mm across"


def _sheet(found: Zones) -> Iterator[str]:
    before, after = found.plans
    stock = float(np.mean(found.case.sheet.start))
    yield f"{'Sheet':<24}{'before':>10}{'after':>10}"
    for name, value, unit in (
        ("spread", lambda p: p.spread, "K    hottest less coldest mean through the thickness"),
        (
            "the same, by the rise",
            lambda p: 100.0 * p.spread / (float(p.mean.mean()) - stock),
            "%    of the mean's rise over the stock",
        ),
        ("standard deviation", lambda p: float(p.mean.std()), "K"),
        ("mean over the sheet", lambda p: float(p.mean.mean()) - ZERO_CELSIUS, "degC"),
        ("coldest spot", lambda p: float(p.mean.min()) - ZERO_CELSIUS, "degC"),
        ("hottest spot", lambda p: float(p.mean.max()) - ZERO_CELSIUS, "degC"),
        ("upper less lower face", lambda p: float(np.max(np.abs(p.apart))), "K    at most, either way"),
    ):
        yield f"  {name:<22}{value(before):>10.1f}{value(after):>10.1f}  {unit}".rstrip()
    for word, spot in (("coldest", np.argmin), ("hottest", np.argmax)):
        places = [spoken_place(found, int(spot(p.mean))) for p in found.plans]
        yield _filled(f"{word} spot from the middle of the sheet: before {places[0]}; after {places[1]}")


# -- what limits it ----------------------------------------------------------------------------------------------------


def limited_by(found: Zones) -> list[str]:
    """What stands in the way of a smaller spread, or of the target, in sentences."""
    after, out = found.plans[1], []
    if not found.reached:
        side = "below" if found.missed < 0.0 else "above"
        out.append(
            f"The target of {_degrees(found.target)} cannot be reached with these bounds: the best that can be had is a mean "
            f"of {_degrees(float(after.mean.mean()))}, {abs(found.missed):.1f} K {side} it, with a spread of "
            f"{after.spread:.1f} K. {_other_way(found)}"
        )
    out += _at_bounds(found)
    without = {trial.without: trial for trial in found.trials}
    for name, words in (
        ("bounds", "Without these bounds, and with power enough, the sheet"),
        ("dead zones", "With the dead zones mended the sheet"),
        ("symmetry", 'With every zone set by itself (symmetry = "none") the sheet'),
    ):
        if name in without:
            trial = without[name]
            gain = after.spread - trial.spread
            worth = f", {gain:.1f} K less" if gain >= BETTER else ", hardly less" if gain > -BETTER else ", no less"
            out.append(
                f"{words} would come to a spread of {trial.spread:.1f} K{worth}, at a mean of {_degrees(trial.mean)} and "
                f"settings from {trial.settings}."
            )
    out += _spots(found)
    return out


def _other_way(found: Zones) -> str:
    warmer = found.missed < 0.0
    if found.windows[1] is not None:
        return (
            "Give the duration that is wanted, or wider bounds."
            if not warmer
            else "Give a longer duration, or wider bounds."
        )
    return f"A {'longer' if warmer else 'shorter'} dwell, or wider bounds, would bring it there."


def _at_bounds(found: Zones) -> list[str]:
    out = []
    for panel in found.panels:
        for word, words in (
            ("highest", f"at the highest, {panel.highest:.4g} {panel.unit}"),
            ("lowest", f"at the lowest, {panel.lowest:.4g} {panel.unit}"),
            ("full", "with all their power on"),
            ("off", "off"),
        ):
            count = panel.count(word)
            if not count:
                continue
            zones = sum(len(row) for row in panel.at_bound) - panel.count("dead")
            verb = "stands" if count == 1 else "stand"
            named = "" if count > FEW or count == zones else f" ({_names(panel, word)})"
            of = "All" if count == zones else f"{count} of"
            out.append(f"{of} {zones} zones of the {panel.side} panel of {panel.station} {verb} {words}{named}.")
    if not out and not any(panel.count("dead") for panel in found.panels):
        out.append(
            "No zone stands at a bound. What is left comes of the size of the zones and of the gap, over which each of them "
            "reaches its neighbours' part of the sheet too."
        )
    return out


def _names(panel: PanelSettings, word: str) -> str:
    places = [f"{i + 1},{j + 1}" for i, row in enumerate(panel.at_bound) for j, w in enumerate(row) if w == word]
    return ("zone " if len(places) == 1 else "zones ") + "; ".join(places)


def _spots(found: Zones) -> list[str]:
    """Why the coldest and the hottest spot are what they are, as far as it can be seen."""
    out = []
    plan = found.plans[1]
    spot = int(np.argmin(plan.mean))
    process = SheetProcess(found.case, ALL)
    columns, rows = found.case.map_spots  # type: ignore[misc]
    edges = [spot % columns in (0, columns - 1), spot // columns in (0, rows - 1)]
    kind = "a corner" if all(edges) else "an edge" if any(edges) else ""
    for word, at in (("coldest", spot), ("hottest", int(np.argmax(plan.mean)))):
        dead = _dead_over(found, at)
        if dead:
            why = ", whose neighbours make up for it" if word == "hottest" else ""
            out.append(f"The {word} spot ({spoken_place(found, at)}) lies {dead}{why}.")
    if kind:
        station, side = next(
            (s, side)
            for s in found.case.stations
            if isinstance(s, PanelsStation)
            for side, p in s.panels.items()
            if p.geometric
        )
        view = np.atleast_1d(np.asarray(sight(station, side, process.view()).view))
        frame = ", and the clamp frame cools it" if found.case.sheet.frame is not None else ""
        if len(view) == len(plan.mean):
            out.append(
                f"The coldest spot is at {kind} of the sheet: the {side} panel fills {view[spot]:.2f} of what it sees, and "
                f"{view.max():.2f} of what the best spot sees{frame}. A smaller gap, a larger panel or reflecting sides help."
            )
    return out


def _dead_over(found: Zones, spot: int) -> str:
    """Which dead zone a spot lies under or over, or next to."""
    x, y = place_of(found, spot)
    for panel in found.panels:
        station = next(s for s in found.case.stations if s.name == panel.station)
        entry = getattr(station, panel.side)
        if not entry.geometric:
            continue
        rows, columns = panel.before.shape
        sides = [float(np.ravel(side)[0]) for side in entry.size]
        middle = [float(np.ravel(o)[0]) for o in entry.offset]
        column = (x - middle[0]) / sides[0] * columns + columns / 2.0
        row = (y - middle[1]) / sides[1] * rows + rows / 2.0
        for r, c in entry.dead:
            off = max(abs(row - (r - 0.5)), abs(column - (c - 0.5)))
            if off <= 0.75:
                where = ("under" if panel.side == "upper" else "over") if off <= 0.5 else "near"
                return f"{where} the dead zone {r},{c} of the {panel.side} panel"
    return ""


def _windows(found: Zones) -> Iterator[str]:
    before, after = found.windows
    for word, window in (("before", before), ("after", after)):
        if window is not None:
            yield _filled(f"{word:<8}{_window(window)}", "  ", "          ")
    yield _filled(
        f"The settings are those for a dwell of {found.dwell:.1f} s; `thermokit dwell` on the new case says which to take."
        if found.dwell is not None
        else "`thermokit dwell` on the new case says which to take."
    )


def _window(window: Window) -> str:
    if window.earliest is None:
        return "no window"
    limits = f"from {window.earliest:.1f} s" + (f" ({window.earliest_limit})" if window.earliest_limit else "")
    if window.latest is None:
        return f"{limits} on"
    return f"{limits} to {window.latest:.1f} s ({window.latest_limit}): {window.latest - window.earliest:.1f} s wide"
