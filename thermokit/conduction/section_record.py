"""What is kept of a run of a section: rows, span ends, extremes, crossings and the heat balance, apart from how to step."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermokit.conduction.history import Ending, HeatBalance, mismatch_of
from thermokit.conduction.record import default_times
from thermokit.conduction.section_history import SectionHistory, SectionSpanEnd
from thermokit.conduction.section_problem import PlaceOfExtreme
from thermokit.conduction.section_watch import SectionWatch, Watcher

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.conduction.problem import Array
    from thermokit.conduction.section_equations import SectionSystem
    from thermokit.conduction.section_matrices import SectionBody
    from thermokit.conduction.section_media import NodeEnergy
    from thermokit.conduction.section_step import SectionState, Step

ROWS = 100
HAIR = 1e-9  # K, by which a later extreme must be beyond an earlier one to count
HALVINGS = 24  # of a step in which a threshold is met
STEEP = (
    3.0  # times the change over a step, a slope beyond which the dense output would overshoot (Fritsch & Carlson 1980)
)


class Dense:
    """Temperatures inside an accepted step: cubic in energy, by its rates at both ends, and without overshoot."""

    def __init__(
        self, energy: NodeEnergy, system: SectionSystem, before: SectionState, step: Step, h: float, slack: float
    ):
        self.energy, self.shift = energy, before.shift
        self.w0, self.w1 = before.w, step.state.w
        self.rise = step.state.w - before.w
        self.slopes = []
        bound = STEEP * np.abs(self.rise) + slack / np.maximum(self._per_kelvin(before), 1e-300)
        for state, rate in ((before, step.rate0), (step.state, step.rate)):
            slope = self.rise.copy()  # held nodes move straight
            c = energy.energy(state.w, before.shift)[1]
            slope[system.free] = h * rate[system.free] / c[system.free]
            self.slopes.append(np.clip(slope, -bound, bound))

    def _per_kelvin(self, state: SectionState) -> Array:
        return self.energy.temperature(state.w, state.shift)[1]

    def __call__(self, share: float) -> Array:
        """Temperatures of all nodes at a share of the step [K]."""
        s, r = share, 1.0 - share
        d0, d1 = self.slopes
        w = self.w0 + s * s * (3.0 - 2.0 * s) * self.rise + s * r * (r * d0 - s * d1)
        return self.energy.temperature(w, self.shift)[0]


class SectionRecorder:
    """Collects the accepted steps of a run and makes its :class:`SectionHistory`."""

    def __init__(
        self,
        body: SectionBody,
        energy: NodeEnergy,
        times: Array | None,
        watches: Sequence[SectionWatch],
        slack: float,
    ):
        self.body, self.energy, self.slack = body, energy, slack
        problem = body.problem
        durations = [float(span.duration) for span in problem.spans]
        self.times = default_times(durations, ROWS) if times is None else np.asarray(times, float)
        self.watchers = [Watcher(watch, problem, body.mesh) for watch in watches]
        self.rows: list[tuple[float, int, Array]] = []
        self.ends: list[SectionSpanEnd] = []
        self.time = 0.0
        self.span = 0
        self.span_faces: dict[str, float] = {}
        self.entered = self.left = self.stored = self.held = 0.0
        self.hottest: PlaceOfExtreme | None = None
        self.coldest: PlaceOfExtreme | None = None
        self.span_hottest: PlaceOfExtreme | None = None
        self.span_coldest: PlaceOfExtreme | None = None
        self.warnings: list[str] = []
        self.accepted = self.rejected = 0

    def begin_span(self, span: int) -> None:
        """A span begins."""
        self.span = span
        self.span_faces = dict.fromkeys(self.body.problem.face_names, 0.0)
        self.span_hottest = self.span_coldest = None

    def heat(self, system: SectionSystem, faces: Array, sources: float) -> None:
        """Heat that crossed the faces and came from sources [J]."""
        names = self.body.problem.face_names
        for f, value in zip(system.face_ids, faces.tolist(), strict=True):
            self.span_faces[names[f]] += value
            self._balance(value)
        self._balance(sources)

    def _balance(self, value: float) -> None:
        if value > 0.0:
            self.entered += value
        else:
            self.left -= value

    def step(self, system: SectionSystem, before: SectionState, step: Step, h: float) -> None:
        """Keep an accepted step."""
        self.accepted += 1
        self.heat(system, step.faces, step.sources)
        # by what the temperatures hold, not by the heat that is carried on, so that the balance sees what Newton's method leaves
        held = [self.energy.energy(state.w, state.shift)[0] for state in (before, step.state)]
        self.stored += float((held[1] - held[0])[system.active].sum())
        self.held = max(self.held, float(np.abs(held[0])[system.active].sum()))
        begin, end = self.time, self.time + h
        dense: Dense | None = None
        after = self.energy.temperature(step.state.w, step.state.shift)[0]
        reach = end * (1.0 + 1e-12)
        while len(self.rows) < len(self.times) and self.times[len(self.rows)] <= reach:
            t = float(self.times[len(self.rows)])
            share = min((t - begin) / h, 1.0)
            if share > 1.0 - 1e-9:
                self._row(t, system, after)
                continue
            dense = dense or Dense(self.energy, system, before, step, h, self.slack)
            self._row(t, system, dense(share))
        for watcher in self.watchers:
            if watcher.found is None and watcher.beyond(watcher.value(after, system.active)):
                dense = dense or Dense(self.energy, system, before, step, h, self.slack)
                watcher.found = begin + h * _crossing(watcher, dense, system.active)
        self.time = end
        self._extremes(system, after)

    def look(self, system: SectionSystem, temperature: Array) -> None:
        """Extremes and crossings of the moment at which a piece begins, and the row of the very first."""
        if not self.rows and len(self.times) and self.times[0] <= self.time:
            self._row(float(self.times[0]), system, temperature)
        self._extremes(system, temperature)
        for watcher in self.watchers:
            if watcher.found is None and watcher.beyond(watcher.value(temperature, system.active)):
                watcher.found = self.time

    def _extremes(self, system: SectionSystem, temperature: Array) -> None:
        if not np.any(system.active):
            return
        for name, sign in (("hottest", 1.0), ("coldest", -1.0)):
            signed = np.where(system.active, sign * temperature, -np.inf)
            node = int(np.argmax(signed))
            for scope in (name, f"span_{name}"):
                known = getattr(self, scope)
                if known is None or signed[node] > sign * known.value + HAIR:
                    setattr(self, scope, place_of(self.body, node, temperature, self.time))

    def _row(self, time: float, system: SectionSystem, temperature: Array) -> None:
        self.rows.append((time, self.span, np.where(system.active, temperature, np.nan)))

    def end_span(self, system: SectionSystem, temperature: Array, time: float) -> None:
        """A span is finished."""
        self.time = time
        nowhere = PlaceOfExtreme(float("nan"), time, float("nan"), float("nan"), "")
        self.ends.append(
            SectionSpanEnd(
                time,
                np.where(system.active, temperature, np.nan),
                dict(self.span_faces),
                self.span_hottest or nowhere,
                self.span_coldest or nowhere,
            )
        )

    def history(self, ending: Ending) -> SectionHistory:
        """Everything that was kept, as one frozen object."""
        problem, mesh = self.body.problem, self.body.mesh
        temperature = np.stack([row[2] for row in self.rows]) if self.rows else np.zeros((0, self.body.nodes))
        mismatch = float(mismatch_of(self.entered, self.left, self.stored, 0.0, self.held))
        nowhere = PlaceOfExtreme(float("nan"), 0.0, float("nan"), float("nan"), "")
        return SectionHistory(
            mesh=mesh,
            time=np.array([row[0] for row in self.rows]),
            span=np.array([row[1] for row in self.rows], np.int64),
            temperature=temperature,
            heat=HeatBalance(
                self.entered, self.left, self.stored, 0.0, mismatch, "J" if problem.axisymmetric else "J/m"
            ),
            hottest=self.hottest or nowhere,
            coldest=self.coldest or nowhere,
            ends=tuple(self.ends),
            ending=ending,
            region_names=tuple(region.name for region in problem.regions),
            face_names=problem.face_names,
            axisymmetric=problem.axisymmetric,
            peaks=peaks_of(self.body, temperature),
            crossings={watcher.watch.name: watcher.found for watcher in self.watchers},
            warnings=tuple(self.warnings),
            accepted=self.accepted,
            rejected=self.rejected,
        )


def place_of(body: SectionBody, node: int, temperature: Array, time: float) -> PlaceOfExtreme:
    """A node as the place of an extreme."""
    mesh, name = body.mesh, body.problem.regions[int(body.owner[node])].name
    return PlaceOfExtreme(float(temperature[node]), time, float(mesh.x[node]), float(mesh.y[node]), name)


def peaks_of(body: SectionBody, temperature: Array) -> dict[str, Array]:
    """Hottest place of each region [K], (rows,), from temperatures (rows, nodes); not-a-number where it is absent."""
    peaks = {}
    for i, region in enumerate(body.problem.regions):
        part = temperature[:, np.unique(body.mesh.triangles[body.mesh.region == i])]
        peaks[region.name] = part.max(axis=1, initial=-np.inf) if part.shape[1] else np.full(len(part), np.nan)
    return peaks


def _crossing(watcher: Watcher, dense: Dense, active: Array) -> float:
    """Share of a step at which a threshold is met, by halving."""
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if watcher.beyond(watcher.value(dense(middle), active)):
            high = middle
        else:
            low = middle
    return high
