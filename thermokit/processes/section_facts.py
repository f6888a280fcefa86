"""What a section is judged by: its state at one time, and the hottest it has been until then, by region and in all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.section_problem import PlaceOfExtreme

if TYPE_CHECKING:
    from collections.abc import Mapping

    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_history import SectionHistory
    from thermokit.conduction.section_problem import SectionMesh


@dataclass(frozen=True)
class SectionFacts:
    """State of a section at a time of its run [s].

    temperature : (nodes,) [K], NaN where a region is absent; last : region -> (nodes,) when it was last there, and when;
    hottest : at any time until then; peaks : region -> hottest until then [K]; probes : name -> last
    value [K] (of a place that is not always there, when it was last there) and its time.
    """

    mesh: SectionMesh
    region_names: tuple[str, ...]
    axisymmetric: bool
    time: float
    temperature: Array
    last: Mapping[str, tuple[float, Array]]
    hottest: PlaceOfExtreme
    peaks: Mapping[str, float]
    probes: Mapping[str, tuple[float, float]]

    def quantities(self) -> dict[str, float]:
        """Every outcome that a limit may be put on, by name [SI]."""
        there = self.temperature[np.isfinite(self.temperature)]
        if not there.size:
            there = np.array([np.nan])
        found = {
            "hottest_temperature": self.hottest.value,
            "coldest_temperature": float(there.min()),
            "hottest_final_temperature": float(there.max()),
            "final_spread": float(there.max() - there.min()),
            "mean_temperature": mean_over(self.mesh, self.temperature, self.axisymmetric),
        }
        for i, name in enumerate(self.region_names):
            nodes, values = nodes_of(self.mesh, i), self.last[name][1]
            found[f"{name}_hottest_temperature"] = self.peaks[name]
            found[f"{name}_hottest_final_temperature"] = float(values[nodes].max())
            found[f"{name}_coldest_temperature"] = float(values[nodes].min())
            found[f"{name}_mean_temperature"] = mean_over(self.mesh, values, self.axisymmetric, i)
        return found | {f"{name}_temperature": value for name, (value, _) in self.probes.items()}

    def place_of(self, hottest: bool, region: int | None = None) -> PlaceOfExtreme:
        """The hottest or coldest place of the section (or of a region when it was last there) at the end."""
        time, values = (self.time, self.temperature) if region is None else self.last[self.region_names[region]]
        nodes = np.arange(len(values)) if region is None else nodes_of(self.mesh, region)
        nodes = nodes[np.isfinite(values[nodes])]
        node = int(nodes[(np.argmax if hottest else np.argmin)(values[nodes])])
        owners = np.unique(self.mesh.region[(self.mesh.triangles == node).any(axis=1)])
        name = self.region_names[int(owners[0]) if region is None else region]
        return PlaceOfExtreme(float(values[node]), time, float(self.mesh.x[node]), float(self.mesh.y[node]), name)


def nodes_of(mesh: SectionMesh, region: int) -> Array:
    """Nodes of a region, those on its rim included."""
    return np.unique(mesh.triangles[mesh.region == region])


def mean_over(mesh: SectionMesh, temperature: Array, axisymmetric: bool, region: int | None = None) -> float:
    """Mean temperature by volume of a region, or of all that is there: exact for what is linear over each triangle [K]."""
    chosen = mesh.triangles if region is None else mesh.triangles[mesh.region == region]
    values = temperature[chosen]
    there = np.isfinite(values).all(axis=1)
    chosen, values = chosen[there], values[there]
    if not len(chosen):
        return float("nan")
    x, y = mesh.x[chosen], mesh.y[chosen]
    area = np.abs((x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0])) / 2.0
    if not axisymmetric:
        return float(np.sum(area * values.mean(axis=1)) / np.sum(area))
    # integral of two linear functions over a triangle: area/12 (sum of both sums + sum of products)
    moment = area / 12.0 * (x.sum(axis=1) * values.sum(axis=1) + (x * values).sum(axis=1))
    return float(np.sum(moment) / np.sum(area * x.mean(axis=1)))


def facts_at(history: SectionHistory, row: int, probes: Mapping[str, Array]) -> SectionFacts:
    """Facts of a run cut off at one of its rows (the last row of a whole run)."""
    mesh, time = history.mesh, float(history.time[row])
    last: dict[str, tuple[float, Array]] = {}
    states = [(end.time, end.temperature) for end in history.ends if end.time < time * (1.0 - 1e-12)]
    states.append((time, history.temperature[row]))
    for i, name in enumerate(history.region_names):
        some = nodes_of(mesh, i)
        for when, values in states:
            if np.isfinite(values[some]).all():
                last[name] = (when, values)
        last.setdefault(name, (time, np.full(len(mesh.x), np.nan)))
    whole = row == len(history.time) - 1
    return SectionFacts(
        mesh=mesh,
        region_names=history.region_names,
        axisymmetric=history.axisymmetric,
        time=time,
        temperature=history.temperature[row],
        last=last,
        hottest=history.hottest if whole else _hottest_until(history, row),
        peaks={name: _peak(history, name, i, row) for i, name in enumerate(history.region_names)},
        probes={name: _last(history.time, values, row) for name, values in probes.items()},
    )


def _last(time: Array, values: Array, row: int) -> tuple[float, float]:
    """The last value up to a row, and its time; NaN where there is none."""
    there = np.flatnonzero(np.isfinite(values[: row + 1]))
    return (float(values[there[-1]]), float(time[there[-1]])) if there.size else (float("nan"), float(time[row]))


def _peak(history: SectionHistory, name: str, region: int, row: int) -> float:
    """Hottest place of a region until a row [K]: at the rows, and in the whole run where it is the hottest region."""
    if name in history.peaks:
        values = history.peaks[name][: row + 1]
    else:
        values = history.temperature[: row + 1, nodes_of(history.mesh, region)].max(axis=1)
    values = values[np.isfinite(values)]
    found = float(values.max()) if values.size else float("nan")
    if history.hottest.region == name and history.hottest.time <= history.time[row]:
        found = max(found, history.hottest.value)
    return found


def _hottest_until(history: SectionHistory, row: int) -> PlaceOfExtreme:
    """Hottest place at the rows up to one of them; the run's own where it had been by then."""
    if history.hottest.time <= history.time[row]:
        return history.hottest
    rows = np.where(np.isnan(history.temperature[: row + 1]), -np.inf, history.temperature[: row + 1])
    at, node = np.unravel_index(int(rows.argmax()), rows.shape)
    owner = int(history.mesh.region[(history.mesh.triangles == node).any(axis=1)][0])
    return PlaceOfExtreme(
        float(rows[at, node]), float(history.time[at]), float(history.mesh.x[node]), float(history.mesh.y[node]),
        history.region_names[owner],
    )  # fmt: skip
