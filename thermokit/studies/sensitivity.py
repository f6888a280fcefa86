"""Which input does the answer hang on? Sobol indices of margins and outcomes over the tolerances, or over ranges of a sweep.

Each input is also moved alone from one end to the other, all others as they are meant: what a setter would try.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case import sought_path
from thermokit.case.sweep import Range
from thermokit.errors import CaseError, Mistake
from thermokit.processes import direct_of, process_of
from thermokit.processes.run import settled
from thermokit.studies.answers import answers_of, plan_of
from thermokit.studies.answers_prepare import OF_WINDOW
from thermokit.studies.run import as_case
from thermokit.studies.sensitivity_indices import Indices, indices_of
from thermokit.studies.sought import Scale, scale_of
from thermokit.studies.tolerance import SEED, drawn
from thermokit.studies.tolerance_parts import WORK, ends_of, parts_of
from thermokit.studies.tolerance_study import recommended, toleranced

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from thermokit.conduction.problem import Array

ROWS, FEWEST_ROWS = 1024, 64  # base rows where a batch solves them
SLOW_ROWS = 16  # where each row is a run of its own
WALL_ROWS = 64  # on the single wall of a mould
WINDOW_ROWS = 128  # for edges of the window, which take some dozens of runs a row
MOST_ROWS = 2**16
FEW = 8  # rows at a time where each is a run of its own
CONFIDENT = 2.0  # standard deviations at which an input is tried alone


@dataclass(frozen=True)
class Output:
    """One number whose variance is shared out: name, unit, and whether it is the margin of a limit."""

    name: str
    unit: str
    margin: bool


@dataclass(frozen=True)
class Sensitivity:
    """The answer.

    case : with the setting filled in; inputs : names of the tolerances or paths of the ranges; paths : of each; over :
    ``tolerances`` or ``sweep``; outputs; indices; alone : (2, outputs, inputs) each output with that input alone at its low and
    its high end, others as meant; ends : (2, inputs) values there of the first path [SI]; nominal : (outputs,).
    """

    case: Any
    path: str | None
    setting: float | None
    scale: Scale
    inputs: tuple[str, ...]
    paths: tuple[tuple[str, ...], ...]
    over: str
    outputs: tuple[Output, ...]
    indices: Indices
    alone: Array
    ends: Array
    nominal: Array
    seed: int
    notes: tuple[str, ...] = ()

    def ranked(self, output: int) -> list[int]:
        """Numbers of the inputs, the largest total index first."""
        return [int(i) for i in np.argsort(-np.nan_to_num(self.indices.total[output]), kind="stable")]


@dataclass(frozen=True)
class Cube:
    """Inputs as functions of the unit cube: names, paths of each, values at points, and the ends at which one is tried alone."""

    names: tuple[str, ...]
    paths: tuple[tuple[str, ...], ...]
    values: Callable[[Array], dict[str, Array]]
    low: float
    high: float


def sensitivity(
    case: Any,
    wanted: Sequence[str] = (),
    rows: int | None = None,
    seed: int = SEED,
    setting: float | None = None,
    usual: bool = False,
    over: str | None = None,
    progress: Callable[[float], None] | None = None,
) -> Sensitivity:
    """What the margins of a case, and outcomes that are named, hang on.

    Parameters
    ----------
    case : Case or path
        with ``[tolerances]``, or ranges in ``[sweep]``; where something is sought, it is tried at its best setting
    wanted : sequence of str
        outcomes as `thermokit run` tells them, beside the margins; ``earliest`` and ``latest`` too where something is sought
    rows : int, optional
        base rows, rounded up to a power of two; each takes as many runs as there are inputs, and two more
    seed, setting, usual : see :func:`thermokit.studies.tolerance_study.scatter`
    over : str, optional
        ``tolerances`` or ``sweep``; left out, tolerances where there are any

    Raises
    ------
    CaseError
        nothing varies; an unknown outcome; nothing limits the part and no outcome is told

    """
    case = as_case(case)
    told = progress or (lambda share: None)
    over = over or ("sweep" if case.sweep is not None and not case.tolerances and not usual else "tolerances")
    path, own = sought_path(case), case
    if over == "tolerances":
        case = toleranced(case, usual)
    of_window = [name for name in wanted if name in OF_WINDOW] if path is not None else []
    if path is not None and setting is None:
        setting = recommended(own, path)
    told(0.2)
    filled = case if path is None or setting is None else case.with_values({path: setting})
    cube = _of_tolerances(filled) if over == "tolerances" else _of_sweep(filled)
    bench = _bench(filled, path, setting, cube, [name for name in wanted if name not in of_window], over)
    outputs, ask, most, notes = bench
    count = most if rows is None else min(rows, MOST_ROWS)
    if of_window and rows is None:
        count = min(count, WINDOW_ROWS)
    count = 2 ** max(3, int(np.ceil(np.log2(max(count, 2)))))
    asked = ask
    if of_window:
        outputs, asked = _with_window(case, cube, outputs, ask, of_window)
    slow = bool(notes) and most == SLOW_ROWS
    tell = _telling(told, count * (len(cube.names) + 2))

    def in_lots(u: Array) -> Array:
        lot = FEW if slow else len(u)
        return np.concatenate([tell(asked(cube.values(u[i : i + lot]))) for i in range(0, len(u), lot)], axis=1)

    indices = indices_of(in_lots, len(cube.names), count, seed)
    told(0.9)
    points = _alone(cube)
    found = in_lots(points)
    values = cube.values(points)
    n = len(cube.names)
    ends = np.array([[values[paths[0]][1 + side * n + i] for i, paths in enumerate(cube.paths)] for side in (0, 1)])
    return Sensitivity(
        case=filled,
        path=path,
        setting=setting,
        scale=scale_of(case, path) if path is not None else Scale(),
        inputs=cube.names,
        paths=cube.paths,
        over=over,
        outputs=tuple(outputs),
        indices=indices,
        alone=np.stack([found[:, 1 : 1 + n], found[:, 1 + n :]]),
        ends=ends,
        nominal=found[:, 0],
        seed=seed,
        notes=tuple(notes),
    )


def _telling(told: Callable[[float], None], rows: int) -> Callable[[Array], Array]:
    """Passes answers on, and tells how many of so many rows are done."""
    done = [0]

    def tell(found: Array) -> Array:
        done[0] += found.shape[1]
        told(min(0.2 + 0.7 * done[0] / rows, 0.9))
        return found

    return tell


def _of_tolerances(case: Any) -> Cube:
    from scipy.special import ndtr

    names = tuple(case.tolerances)
    paths = tuple(tolerance.inputs(name) for name, tolerance in case.tolerances.items())
    return Cube(names, paths, lambda u: drawn(case, u), float(ndtr(-CONFIDENT)), float(ndtr(CONFIDENT)))


def _of_sweep(case: Any) -> Cube:
    """Inputs of [sweep], even over their ranges (a list: between its ends; ``log``: even in the logarithm)."""
    if case.sweep is None or case.sweep.plan == "file":
        how = '[sweep.inputs] with lines such as "sheet.thickness" = { from = "3 mm", to = "6 mm", count = 2 }'
        raise CaseError(case.source.file, [Mistake("sweep", "the case has no ranges to vary over", how)])
    ranges = {}
    for path, column in case.sweep.columns(case).items():
        entry = case.sweep.inputs[path]
        log = isinstance(entry, dict) and entry.get("spacing") == "log"
        own = column if isinstance(column, Range) else Range(float(min(column)), float(max(column)), 0, log)
        if own.low == own.high:
            raise CaseError(case.source.file, [Mistake(f"sweep.inputs.{path}", "one value does not vary", "a range")])
        ranges[path] = own
    paths = tuple((path,) for path in ranges)

    def values(u: Array) -> dict[str, Array]:
        return {path: own.at(column) for (path, own), column in zip(ranges.items(), np.asarray(u).T, strict=True)}

    return Cube(tuple(ranges), paths, values, 0.0, 1.0)


def _alone(cube: Cube) -> Array:
    """Points: the middle, each input at its low end, each at its high end; (2 inputs + 1, inputs)."""
    n = len(cube.names)
    points = np.full((2 * n + 1, n), 0.5)
    for i in range(n):
        points[1 + i, i], points[1 + n + i, i] = cube.low, cube.high
    return points


def _bench(
    case: Any, path: str | None, setting: float | None, cube: Cube, wanted: Sequence[str], over: str
) -> tuple[list[Output], Callable[[Mapping[str, Array]], Array], int, list[str]]:
    """(outputs, values of inputs -> (outputs, n), base rows that are worth it, what must be said)."""
    direct = direct_of(case)
    process: Any = direct if direct is not None else process_of(case)
    limits = process.limits()
    # within tolerances the mesh of the nominal part serves all; over a wide range the ends are looked at too
    near = over == "tolerances"
    ends = cube.values(ends_of(len(cube.names))) if near else cube.values(_alone(cube))
    per = len(cube.names) + 2
    if limits and not wanted:
        parts = parts_of(case, path, setting, None if near else ends)
        outputs = [Output(x.name, x.margin_unit if parts.amounts else "s", True) for x in parts.limits]
        if parts.plan is None or parts.plan.how != "batch":
            return outputs, parts.margins, SLOW_ROWS if parts.amounts else WALL_ROWS, [parts.note]
        return outputs, parts.margins, _affordable(parts.plan.work * per), []
    edges = settled(case, process).edges if direct is None and near else None
    plan = plan_of(case, ends, list(wanted) or None, edges)
    notes = [f"each row is a run of its own, since {plan.note}"] if plan.how != "batch" else []
    slow = [o.name for o in plan.chosen() if o.how == "run"] if plan.how == "batch" else []
    if slow:
        notes.append(f"each row is a run of its own for {', '.join(slow)}")
    outputs = [Output(name, unit, True) for name, unit in plan.limits]
    outputs += [Output(o.name, o.unit, False) for o in plan.chosen()]
    if not outputs:
        raise CaseError(
            case.source.file,
            [Mistake("limits", "nothing limits the part, and no outcome is told", "[limits], or an outcome")],
        )

    def ask(values: Mapping[str, Array]) -> Array:
        found = answers_of(plan, values)
        return np.concatenate([found.margins, *([found.outcomes[o.name][None] for o in plan.chosen()])])

    return outputs, ask, SLOW_ROWS if plan.one_by_one else _affordable(plan.work * per), notes


def _affordable(work: float) -> int:
    """Base rows that take some ten seconds; work : of one with all its mixed rows."""
    rows = ROWS
    while rows > FEWEST_ROWS and rows * work > WORK:
        rows //= 2
    return rows


def _with_window(
    case: Any, cube: Cube, outputs: list[Output], ask: Callable[[Mapping[str, Array]], Array], names: Sequence[str]
) -> tuple[list[Output], Callable[[Mapping[str, Array]], Array]]:
    """The same with edges of the window as outputs too."""
    ends = cube.values(_alone(cube))
    plan = plan_of(replace(case, tolerances={}), ends, list(names))
    more = [Output(o.name, o.unit, False) for o in plan.chosen()]

    def both(values: Mapping[str, Array]) -> Array:
        found = answers_of(plan, values)
        return np.concatenate([ask(values), *[found.outcomes[o.name][None] for o in more]])

    return [*outputs, *more], both
