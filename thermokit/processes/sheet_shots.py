"""Shots made one after another: tools warm up until each shot leaves them as it found them."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.conduction.course import Course, LayerState, recalled
from thermokit.conduction.cyclic import settled_many, shots_until_settled
from thermokit.conduction.follow import follow
from thermokit.conduction.follow_batch import follow_batch
from thermokit.conduction.problem import Curve, DepthSource
from thermokit.conduction.slow_map import linear_map
from thermokit.errors import SolveError
from thermokit.processes.sheet_course import SHEET
from thermokit.results.model import Axis, Field, Outcome
from thermokit.stations.tools import idle, tool_layer

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from thermokit.conduction.course import Memory
    from thermokit.conduction.follow import Travel
    from thermokit.conduction.problem import Array
    from thermokit.processes.sheet import SheetProcess

ZERO = 273.15
SETTLED = 0.01  # K, how well the settled state is found
WITHIN = 0.5  # K, of the settled state: shots from there on count as settled
MOVES = 0.3  # K, the last step towards it in a batch: it leaves about a tenth of that
MOST = 8  # steps of a batch
ALIKE = 0.1  # of the logarithm of a length: shots that last as long share a slope
SHORTEST = 1e-3  # s, below which lengths are alike
STILL = 1e-3  # K a shot: a tool that moves less is followed no further
NEVER = "cool the tools' backs or open faces, or ask for the first shot with settled = false in [shots]"


@dataclass(frozen=True)
class Warm:
    """The tools when the next sheet touches, in the settled state: memory by name; evaluations, reached; shots until there."""

    memory: Memory
    evaluations: int
    reached: Any
    slope: Array
    profile: Array


class _Shot:
    """One shot of a process: the sheet comes hot, touches, is released; the tools wait for the next one."""

    def __init__(self, process: SheetProcess, edges: Sequence[Array], cases: int | None, tolerance: float):
        self.process, self.cases, self.tolerance = process, cases, tolerance
        case = process.case
        assert case.shots is not None
        named = process.named(edges)
        self.tools = {
            name: tool_layer(name, tool, process.stuff, named[name])
            for name, tool in case.tools.items()
            if tool.has_body
        }
        course = process.course(edges)
        first = next(i for i, leg in enumerate(course.legs) if any(layer.name in self.tools for layer in leg.layers))
        last = max(i for i, leg in enumerate(course.legs) if any(layer.name in self.tools for layer in leg.layers))
        self.before = _part(course, 0, first) if first else None
        self.on = _part(course, first, last + 1)
        self.idle = [
            idle(layer, case.tools[name], self._upper(name), case.shots.between) for name, layer in self.tools.items()
        ]
        self.start = self._stacked({n: _profile(layer.start, layer.cells, cases) for n, layer in self.tools.items()})
        self.sheet: Memory = self._followed(self.before, {}) if self.before is not None else {}
        self.passed: Memory = {}

    def _upper(self, name: str) -> bool:
        """Whether a tool lies on the upper face."""
        return any(
            touch.tool == name
            for station in self.process.case.stations
            for side, touch in getattr(station, "touches", {}).items()
            if side == "upper"
        )

    def _stacked(self, profiles: Mapping[str, Array]) -> Array:
        return np.concatenate([profiles[name] for name in self.tools])

    def _memory(self, x: Array) -> dict[str, LayerState]:
        out, first = {}, 0
        for name, layer in self.tools.items():
            out[name] = LayerState(x[first : first + layer.cells], {}, None)
            first += layer.cells
        return out

    def _followed(self, course: Course, memory: Memory) -> Memory:
        if self.cases is None:
            return follow(course, np.zeros(0), self.tolerance, memory=memory).memory
        return follow_batch(course, self.cases, self.tolerance, memory).memory

    def __call__(self, x: Array) -> Array:
        """Tools (cells, cases) when one sheet touches -> when the next one does; NaN where that cannot be computed."""
        x = x[:, 0] if self.cases is None else x
        self.passed = known = {**self._followed(self.on, {**self.sheet, **self._memory(x)})}
        for wait in self.idle:
            known = {**known, **self._followed(Course((wait,)), known)}
        out = self._stacked({name: known[name].temperature for name in self.tools})
        return out[:, None] if self.cases is None else out

    def slope(self) -> Array:
        """How a change of the tools comes back one shot later, (n, n) or (n, n, cases)."""
        legs = [recalled(leg, self.sheet) if i == 0 else leg for i, leg in enumerate(self.on.legs)]
        return linear_map([*legs, *self.idle], list(self.tools), self.cases)

    def slopes_by_length(self) -> tuple[Array, Any]:
        """The same of a batch, one for all shots that last about as long: (slopes (k, n, n), which of them (cases,))."""
        assert self.cases is not None
        legs = [recalled(leg, self.sheet) if i == 0 else leg for i, leg in enumerate(self.on.legs)]
        parts = (*legs, *self.idle)
        # all parts of a shot may matter by themselves: a long wait is not a long touch
        lengths = np.array(
            [
                np.broadcast_to(sum(np.asarray(span.duration, float) for span in part.spans), (self.cases,))
                for part in parts
            ]
        )
        rounded = np.round(np.log(np.maximum(lengths, SHORTEST)) / ALIKE)
        _, which = np.unique(rounded, axis=1, return_inverse=True)
        which = np.ravel(which)
        slopes = []
        for group in range(int(which.max()) + 1):
            members = np.flatnonzero(which == group)
            one = int(members[np.argsort(lengths[:, members].sum(axis=0), kind="stable")[len(members) // 2]])
            slopes.append(linear_map([_case_of(part, one, self.cases) for part in parts], list(self.tools)))
        return np.array(slopes), which


def _part(course: Course, first: int, last: int) -> Course:
    areas = course.areas[first:last] if course.areas else ()
    return Course(course.legs[first:last], course.body, areas, before=course.before)


def _case_of(part: Any, case: int, cases: int, name: str = "") -> Any:
    """One case of a problem, or of any part of it, whose leaves are arrays over cases."""
    if isinstance(part, np.ndarray):
        if part.ndim == 2:
            return part[:, case if part.shape[-1] > 1 else 0]
        return float(part[case]) if part.ndim == 1 and not name and len(part) == cases else part
    if isinstance(part, Curve):
        return replace(part, value=_case_of(part.value, case, cases, "value"))
    if isinstance(part, tuple):
        return tuple(_case_of(item, case, cases) for item in part)
    if is_dataclass(part) and not isinstance(part, type):
        over_cells = ("edges", "emission") if not isinstance(part, DepthSource) else ("density",)
        return replace(
            part,
            **{
                f.name: _case_of(getattr(part, f.name), case, cases, f.name if f.name in over_cells else "")
                for f in fields(part)
            },
        )
    return part


def _profile(start: Any, cells: int, cases: int | None) -> Array:
    values = np.asarray(start, float)
    return np.array(np.broadcast_to(values[None] if values.ndim == 1 else values, (cells, cases or 1)))


def settled_tools(
    process: SheetProcess, edges: Sequence[Array], cases: int | None, tolerance: float, near: Memory | None = None
) -> Warm:
    """The tools at the touch of a shot that repeats itself, found by a few shots (:mod:`thermokit.conduction.cyclic`).

    near : the tools of a similar single run, to begin from in a batch.
    """
    shot = _Shot(process, edges, cases, tolerance)
    if cases is None:
        try:
            found = settled_many(shot, shot.start, shot.slope(), SETTLED)
        except ValueError as met:
            raise SolveError("the tools never settle: nothing takes their heat from shot to shot", NEVER) from met
        if not found.reached[0]:
            still = f"after {found.evaluations} steps about {float(found.error[0]):.2g} K are left"
            raise SolveError(f"the state of the tools in which every shot is alike was not found: {still}", NEVER)
        memory = shot._memory(found.profile[:, 0])
        return Warm(memory, found.evaluations, found.reached, found.slope, found.profile)
    return _of_many(shot, cases, near)


def _of_many(shot: _Shot, cases: int, near: Memory | None = None) -> Warm:
    """The tools of a batch: steps with one slope for all shots of about the same length, until no case moves by more than MOVES.

    A slope of its own for every case would take more memory and time than the shots that it saves. A case that is not
    settled by then is not a number, and counts as one that could not be computed.
    """
    slopes, which = shot.slopes_by_length()
    back = [_inverse(np.eye(len(slope)) - slope) for slope in slopes]
    x = shot.start
    if near and set(shot.tools) <= set(near):
        own = shot._stacked({name: near[name].temperature for name in shot.tools})
        x = np.repeat(own[:, None], cases, axis=1) if len(own) == len(x) else x
    moved = np.full(cases, np.inf)
    evaluations = 0
    while evaluations < MOST and np.any(moved > MOVES):
        off = shot(x) - x
        evaluations += 1
        off = np.where(np.isfinite(off), off, 0.0)  # a case that cannot be computed fails in its own run
        step = np.empty_like(off)
        for group, inverse in enumerate(back):
            step[:, which == group] = inverse @ off[:, which == group]
        x = x + step
        moved = np.abs(step).max(axis=0)
    x = np.where(moved <= MOVES, x, np.nan)
    return Warm(shot._memory(x), evaluations, moved <= MOVES, slopes[int(which[0])], x)


def _inverse(matrix: Array) -> Array:
    """The inverse, all infinite where there is none: a deviation then stays for ever."""
    try:
        return np.asarray(np.linalg.inv(matrix), float)
    except np.linalg.LinAlgError:
        return np.full_like(matrix, np.inf)


def shot_fields(process: SheetProcess, edges: Sequence[Array], tolerance: float) -> list[Field]:
    """Faces of the tools by shot, from their start on, every shot computed until the tools stand still."""
    shot = _Shot(process, edges, None, tolerance)
    assert process.case.shots is not None
    count = process.case.shots.count
    faces = {name: (-1 if shot._upper(name) else 0) for name in shot.tools}
    touch = {name: np.full(count, np.nan) for name in faces}
    release = {name: np.full(count, np.nan) for name in faces}
    hottest = np.full(count, np.nan)
    x = shot.start
    for k in range(count):
        own = shot._memory(x[:, 0])
        after = shot(x)
        for name, cell in faces.items():
            touch[name][k] = own[name].temperature[cell]
            release[name][k] = shot.passed[name].temperature[cell]
        hottest[k] = shot.passed[SHEET].temperature.max()
        still = float(np.abs(after - x).max()) < STILL
        x = after
        if still:
            for row in (*touch.values(), *release.values(), hottest):
                row[k:] = row[k]
            break
    axis = (Axis("shot", "1", np.arange(1, count + 1), "shot, from 1"),)
    several = len(faces) > 1
    out = []
    for name in faces:
        end = f"_{name}" if several else ""
        out.append(
            Field(
                f"shots/touch_temperature{end}",
                axis,
                "degC",
                touch[name] - ZERO,
                f"face of {name} when the sheet touches",
            )
        )
        out.append(
            Field(f"shots/release_temperature{end}", axis, "degC", release[name] - ZERO, f"face of {name} at release")
        )
    words = "hottest plane of the middle of the sheet at release"
    out.append(Field("shots/hottest_at_release", axis, "degC", hottest - ZERO, words))
    return out


def outcomes(process: SheetProcess, edges: Sequence[Array], tolerance: float) -> list[Outcome]:
    """The settled state of the tools, and how long it takes to get there; None where they never settle."""
    shots = process.case.shots
    if shots is None:
        return []
    shot = _Shot(process, edges, None, tolerance)
    warm: Warm | None = None
    number: float | None = None
    try:
        warm = settled_tools(process, edges, None, tolerance)
        slope = warm.slope[..., 0] if warm.slope.ndim == 3 else warm.slope
        number = float(shots_until_settled(slope, shot.start[:, 0], warm.profile[:, 0], WITHIN))
    except SolveError:
        pass  # only the first shot was asked for, else the run would not have come so far
    out = []
    for name in shot.tools:
        face = None
        if warm is not None:
            face = float(warm.memory[name].temperature[-1 if shot._upper(name) else 0]) - ZERO
        words = f"face of {name} when the sheet touches, once shot after shot is alike"
        out.append(Outcome(f"settled_{name}_temperature", face, "degC", words))
    words = f"shots until the tools are within {WITHIN:g} K of that"
    if number is not None and number > shots.count:
        words += f": more than the {shots.count} that are made"
    out.append(Outcome("shots_until_settled", number, "1", words))
    return out


def tool_fields(travel: Travel) -> list[Field]:
    """Rows of every tool while a sheet is on it."""
    out = []
    for name, own in travel.companions.items():
        axes = (
            Axis(f"{name}_time", "s", own.time, "time from the start of the first station"),
            Axis(f"{name}_depth", "mm", 1e3 * own.depth, f"depth in the tool {name}, from its upper side"),
        )
        out.append(
            Field(f"tool/{name}_temperature", axes, "degC", own.temperature - ZERO, f"temperature of the tool {name}")
        )
    return out
