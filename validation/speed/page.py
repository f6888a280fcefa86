"""The page ``README.md``: words of ``template.md``, tables and pictures from what is stored; nothing on it is written by hand."""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from thermokit.results.whole import write_whole
from validation.speed import pictures, store, tables
from validation.speed.book import PARTS
from validation.speed.curves import GOALS
from validation.speed.equations import PROBLEMS
from validation.speed.machine import QUIET
from validation.speed.mould_section import GOAL, WITHIN
from validation.speed.singles import BARE

OWN = "thermokit"
CURVES = "curves_"
TEMPLATE = Path(__file__).with_name("template.md")
NAMES = {
    "P1": "a 4 mm sheet between panels, in air, on a tool",
    "P2": "a 10 mm charge that cures between platens",
    "P3": "a copper wire in polyethylene, in air and water",
}


def parts_table(measured: store.Measured) -> str:
    """When each part was measured, how quiet the machine was, and its pace."""
    head = ["part", "measured (UTC)", "load before", "others used", "quiet", "LU", "additions", "CPU", "wall"]
    rows: tables.Rows = []
    for name in PARTS:
        if name not in measured:
            rows.append([f"`{name}`", "not measured", *["–"] * 7])
            continue
        m = measured[name]["machine"]
        others = m["others"]
        quiet = "not known" if others is None else ("yes" if others <= QUIET else "**no**")
        # a part that follows another finds the load of the one before it, which is 1
        rows.append(
            [
                f"`{name}`" + (", `--quick`" if m["quick"] else ""),
                m["when"],
                f"{m['load_before']:.1f}",
                "–" if others is None else f"{100 * others:.0f} %",
                quiet,
                {"s": m["yardsticks"]["lu"]},
                {"s": m["yardsticks"]["additions"]},
                {"s": m["seconds"]["cpu"]},
                {"s": m["seconds"]["wall"]},
            ]
        )
    return tables.markdown(tables.table(head, rows))


def machines(measured: store.Measured) -> str:
    """The machines and libraries, one line each set."""
    lines: dict[str, list[str]] = {}
    for name, found in measured.items():
        m = found["machine"]
        libraries = ", ".join(f"{library} {number}" for library, number in m["versions"].items())
        words = f"{m['processor']}, {m['cores']} cores; Python {m['python']}, {libraries}"
        lines.setdefault(words, []).append(f"`{name}`")
    if len(lines) == 1:
        return f"All parts: {next(iter(lines))}."
    return "\n".join(f"- {', '.join(names)}: {words}" for words, names in lines.items())


def reading(x: Sequence[float]) -> str:
    """A ratio in words."""
    if x[1] <= 1.0 <= x[2] and x[1] < x[2]:
        return "as fast, within the spread"
    return (
        f"thermokit is {tables.digits(x[0])} times faster"
        if x[0] > 1
        else f"thermokit is {tables.digits(1 / x[0])} times slower"
    )


class Headline:
    """The ratios that matter, each against the strongest peer of its kind."""

    def __init__(self, measured: store.Measured):
        self.measured = measured
        self.rows: tables.Rows = []

    def add(self, part: str, question: str, peer: str, x: Sequence[float]) -> None:
        """A line; a trial is marked as one."""
        trial = " (`--quick`)" if self.measured[part]["machine"]["quick"] else ""
        self.rows.append([question + trial, peer, {"x": list(x)}, reading(x)])

    def column(self, part: str, key: str, name: str) -> dict[str, dict[str, Any]]:
        """Peer: the cell with its ratio."""
        found = self.measured[part]["tables"][key]
        place = found["head"].index(name)
        return {row[0]: row[place] for row in found["rows"] if isinstance(row[place], dict) and "x" in row[place]}

    def layered(self, part: str, key: str, words: str) -> None:
        """P1 to P3 against the fastest peer."""
        for name in PROBLEMS:
            peers = self.column(part, key, name)
            best = fastest(peers)
            self.add(part, words.format(name), f"{best}, the fastest peer", peers[best]["x"])

    def fipy(self) -> None:
        """One run against FiPy."""
        for name in PROBLEMS:
            peer = self.column("singles", "singles", name).get(BARE)
            if peer is not None:
                self.add("singles", f"one run of {name}", f"FiPy, whose error is {peer['K']:.2g} K", peer["x"])

    def mould(self, key: str, words: str) -> None:
        """The section against the fastest of each library whose cooling time is right, where that is known."""
        found = self.measured["mould"]["tables"][key]
        peers = self.column("mould", key, found["head"][-1])
        errors = {row[0]: row[2]["ds"] for row in found["rows"] if isinstance(row[2], dict)}
        for library in ("scikit-fem", "FiPy"):
            own = {peer: cell for peer, cell in peers.items() if peer.startswith(library)}
            known = {peer: cell for peer, cell in own.items() if peer in errors}
            right = {peer: cell for peer, cell in known.items() if abs(errors[peer]) <= GOAL}
            best = fastest(right or known or own)
            error = f"error {errors[best]:+.4f} s" if best in errors else "whole error not measured"
            self.add("mould", words, f"{best} ({error}), the fastest of {library}", own[best]["x"])


def fastest(peers: Mapping[str, Mapping[str, Any]]) -> str:
    """The peer with the smallest ratio."""
    return min(peers, key=lambda peer: peers[peer]["x"][0])


def headline(measured: store.Measured) -> str:
    """The table at the top."""
    lines = Headline(measured)
    if "singles" in measured:
        lines.layered("singles", "singles", "one run of {}, within 0.1 K")
        lines.fipy()
    if "sweeps" in measured:
        for key in ("many", "hundred"):
            words = measured["sweeps"]["tables"][key]["head"][0]
            lines.layered("sweeps", key, words + " of {}, all rows kept")
    if "mould" in measured:
        lines.mould("cycle", f"mould section, one cycle, cooling time within {GOAL:g} s")
        lines.mould("settled", f"mould section, settled to {WITHIN:g} K")
    if not lines.rows:
        return "Nothing is measured yet."
    return tables.markdown(tables.table(["what", "against", "its CPU time over thermokit's", "reads"], lines.rows))


def by_goal(curves: Mapping[str, Sequence[Mapping[str, Any]]]) -> str:
    """CPU time of each contender within an error, and its ratio to thermokit's within the same error."""
    goals = [goal for goal in GOALS if any(point["K"] <= goal for points in curves.values() for point in points)]

    def best(points: Sequence[Mapping[str, Any]], goal: float) -> float | None:
        return min((float(p["s"]) for p in points if p["K"] <= goal), default=None)

    rows: tables.Rows = []
    for name, points in curves.items():
        if not points:
            continue
        line: list[Any] = [name]
        for goal in goals:
            theirs, ours = best(points, goal), best(curves.get(OWN, ()), goal)
            if theirs is None:
                line.append("–")
            elif name == OWN or ours is None:
                line.append({"s": theirs})
            else:
                line.append({"s": theirs, "note": f"×{tables.digits(theirs / ours)}"})
        rows.append(line)
    return tables.markdown(tables.table(["error at most", *(f"{goal:g} K" for goal in goals)], rows))


def by_setting(curves: Mapping[str, Sequence[Mapping[str, Any]]]) -> str:
    """Every point of every curve: setting, error, CPU time."""
    rows: tables.Rows = []
    for name, points in curves.items():
        for point in points:
            rows.append([name, point["setting"], f"{tables.digits(point['K'], 2)} s", {"s": point["s"]}])
    return tables.markdown(tables.table(["contender", "step, tolerance or mesh", "error", "CPU"], rows))


def section(measured: store.Measured, part: str) -> list[str]:
    """Tables and pictures of a part, or that there are none."""
    if part not in measured:
        return [f"Not measured yet: `python -m validation.speed {part}`."]
    found = measured[part]
    blocks = [tables.markdown(table) for table in found.get("tables", {}).values()]
    if part.startswith(CURVES):
        name = part.removeprefix(CURVES)
        blocks.append(f"![Work and precision of {name}](work_precision_{name}.png)")
        blocks += [f"**{name}, one run**", by_goal(found["single"])]
        blocks += [f"**{name}, a case of many** ({found['cases']} for thermokit)", by_goal(found["batch"])]
    if part == "mould":
        errors = "; ".join(f"{dt}: {error:+.4f} s" for dt, error in found["fipy_errors"].items())
        blocks.append(f"{found['nodes']} nodes. FiPy's error of the cooling time at steps of {errors}.")
    if part == "mould_curves":
        limits = found["limits"]
        blocks.append("![Work and precision of the mould section](work_precision_MS.png)")
        blocks.append(
            f"thermokit's limit of the first cooling time is {limits['thermokit']:.4f} s; FiPy's two shortest steps point to "
            f"{limits['FiPy']:.4f} s."
        )
        blocks += ["**One cycle from a cold mould**", by_setting(found["cycle"])]
        blocks += ["**Settled**", by_setting(found["settled"])]
    return blocks


def when(measured: store.Measured) -> list[str]:
    """Dates, pace and quiet of the parts, machine and libraries."""
    blocks = [parts_table(measured)]
    if measured:
        blocks.append(machines(measured))
    if any(found["machine"]["quick"] for found in measured.values()):
        blocks.append(
            "**Parts marked `--quick` are trials of the machinery**: few turns, few cases, coarse settings. Their numbers are no "
            "measurement to quote."
        )
    known = [found["machine"]["others"] for found in measured.values() if found["machine"]["others"] is not None]
    if known and max(known) > QUIET:
        blocks.append(
            f"**The machine was not quiet**: others used {100 * statistics.median(known):.0f} % of it (median of the parts), up "
            f"to {100 * max(known):.0f} %. CPU times are longer than they would be; ratios of turns hold, with wider spreads."
        )
    return blocks


def page(measured: store.Measured) -> str:
    """The whole page."""
    blocks = {"headline": [headline(measured)], "when": when(measured)}
    blocks |= {part: section(measured, part) for part in PARTS}
    text = TEMPLATE.read_text(encoding="utf-8")
    for name, found in blocks.items():
        place = "{{" + name + "}}"
        if text.count(place) != 1:
            raise RuntimeError(f"{TEMPLATE.name} must have one {place}")
        text = text.replace(place, "\n\n".join(block.strip() for block in found))
    return text


def render(folder: Path) -> None:
    """Make the page and the pictures in a folder from its stored numbers."""
    measured = store.kept(folder / "measured")
    for name, words in NAMES.items():
        if CURVES + name in measured:
            pictures.layered(folder, name, words, measured[CURVES + name])
    if "mould_curves" in measured:
        pictures.section(folder, measured["mould_curves"])
    write_whole(folder / "README.md", page(measured).encode())
