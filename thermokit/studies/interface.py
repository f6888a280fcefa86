"""The commands as functions: each takes a case (or the name of its file) and gives an answer with numpy arrays.

Answers have ``as_json()``, the object that the command prints with ``--json``, and ``to_xarray()``. Inputs go by their path;
their values are numbers in SI or texts with a unit (``"80 s"``), as in a case file.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from thermokit.studies.given import input_value, setting_value
from thermokit.studies.interface_answers import tabled
from thermokit.studies.run import as_case

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from thermokit.studies.bottleneck import Bottleneck
    from thermokit.studies.chart import Chart
    from thermokit.studies.compare import Comparison
    from thermokit.studies.cost import PartCost
    from thermokit.studies.fit import CaseFit
    from thermokit.studies.found import Dwell
    from thermokit.studies.interface_answers import FoundTable
    from thermokit.studies.methods import Methods
    from thermokit.studies.scale_up import ScaleUp
    from thermokit.studies.sensitivity import Sensitivity
    from thermokit.studies.thermocouple import Couple
    from thermokit.studies.tolerance_study import Scatter
    from thermokit.studies.verify import Verification
    from thermokit.studies.window_map import WindowMap
    from thermokit.studies.zones import Zones

    Told = Callable[[float], None] | None


def dwell(case: Any, progress: Told = None) -> Dwell:
    """Earliest, latest and recommended value of what a case leaves to be found: ``thermokit dwell``.

    Values are in SI (a temperature in K); ``scale`` shows them. Raises CaseError where nothing is to be found, or nothing limits
    it.
    """
    from thermokit.studies.dwell import dwell as find

    found: Dwell = tabled(find(as_case(case), progress))
    return found


def tolerance(
    case: Any, *, at: Any = None, usual: bool = False, draws: int | None = None, seed: int | None = None,
    progress: Told = None,
) -> Scatter:  # fmt: skip
    """How many parts come out right within the tolerances of a case, and why the others do not: ``thermokit tolerance``.

    at : setting at which parts are drawn; usual : with the tolerances usual in the shop; see
    :func:`thermokit.studies.tolerance_study.scatter`.
    """
    from thermokit.studies.tolerance import SEED
    from thermokit.studies.tolerance_study import scatter

    case = as_case(case)
    found: Scatter = tabled(
        scatter(case, draws, SEED if seed is None else seed, setting_value(case, at), usual, progress)
    )
    return found


def window(
    case: Any, across: tuple[str, Any, Any], up: tuple[str, Any, Any], *, at: Any = None, points: int = 60,
    progress: Told = None,
) -> WindowMap:  # fmt: skip
    """A map over two settings: ``thermokit window``.

    across, up : (path, from, to), such as ``("stations.heat.duration", "55 s", "105 s")``; several paths joined by ``+`` are set
    alike; at : what is sought counts as set to this.
    """
    from thermokit.studies.window_map import axis_of, paths_of, window_map

    case = as_case(case)
    axes = []
    for name, low, high in (across, up):
        ends = [sorted(input_value(case, path, end) for end in (low, high)) for path in paths_of(case, name)]
        axes.append(axis_of(case, name, ends[0][0], ends[0][1]))
    found: WindowMap = tabled(window_map(case, axes[0], axes[1], points, setting_value(case, at), progress))
    return found


def sensitivity(
    case: Any, of: Sequence[str] = (), *, at: Any = None, over: str | None = None, usual: bool = False,
    rows: int | None = None, seed: int | None = None, progress: Told = None,
) -> Sensitivity:  # fmt: skip
    """Which input the answer hangs on: ``thermokit sensitivity``; of : outcomes beside the margins."""
    from thermokit.studies.sensitivity import sensitivity as vary
    from thermokit.studies.tolerance import SEED

    case = as_case(case)
    seed = SEED if seed is None else seed
    found: Sensitivity = tabled(vary(case, tuple(of), rows, seed, setting_value(case, at), usual, over, progress))
    return found


def zones(case: Any, progress: Told = None) -> Zones:
    """Settings of the heater zones that even out a sheet: ``thermokit zones``."""
    from thermokit.studies.zones import zones as even_out

    found: Zones = tabled(even_out(case, progress))
    return found


def methods(case: Any, progress: Told = None) -> Methods:
    """Which shaping methods can make the part of a case: ``thermokit methods``."""
    from thermokit.studies.methods import methods as try_all

    found: Methods = tabled(try_all(case, progress))
    return found


def compare(
    *cases: Any,
    changes: Sequence[Mapping[str, Any]] = (),
    progress: Told = None,
) -> Comparison:
    """Designs side by side: ``thermokit compare``.

    cases : cases or files; with one, ``changes`` holds path -> value as it would stand in the file, a mapping for each design.
    """
    from thermokit.studies.compare import compare as stand

    flat = [f"{path}={value}" for change in changes for path, value in change.items()]
    found: Comparison = tabled(stand(list(cases), flat, progress))
    return found


def changed(case: Any, values: Mapping[str, Any]) -> Any:
    """The case with other values at some paths, as if its file had been written so; texts as in the file, numbers in SI."""
    from thermokit.studies.compare_changes import changed as rewritten

    case = as_case(case)
    texts = {path: value for path, value in values.items() if isinstance(value, str)}
    numbers = {path: value for path, value in values.items() if path not in texts}
    new = rewritten(case, texts) if texts else case
    return new.with_values({path: input_value(new, path, value) for path, value in numbers.items()})


def cost(case: Any, progress: Told = None) -> PartCost:
    """Energy and cost of a part: ``thermokit cost``."""
    from thermokit.studies.cost import cost as add_up

    found: PartCost = tabled(add_up(case, progress))
    return found


def bottleneck(case: Any, progress: Told = None) -> Bottleneck:
    """Which station rules the cycle, and what a second is worth: ``thermokit bottleneck``."""
    from thermokit.studies.bottleneck import bottleneck as look

    found: Bottleneck = tabled(look(case, progress))
    return found


def chart(
    case: Any, against: tuple[str, Any, Any], *, family: tuple[str, Sequence[Any]] | None = None, points: int | None = None,
    progress: Told = None,
) -> Chart:  # fmt: skip
    """What is sought against an input: ``thermokit chart``; against : (path, from, to), family : (path, values)."""
    from thermokit.studies.chart import chart as draw_up
    from thermokit.studies.window_map import axis_of, paths_of

    case = as_case(case)
    name, low, high = against
    path = paths_of(case, name)[0]
    across = axis_of(case, name, *sorted((input_value(case, path, low), input_value(case, path, high))))
    of = None
    if family is not None:
        values = [input_value(case, paths_of(case, family[0])[0], value) for value in family[1]]
        of = (axis_of(case, family[0], min(values), max(values)), values)
    found: Chart = tabled(draw_up(case, across, points, of, progress))
    return found


def scale(
    case: Any, *, factors: Sequence[float] | None = None, inputs: Sequence[str] | None = None, of: str | None = None,
    material: str | None = None, progress: Told = None,
) -> ScaleUp:  # fmt: skip
    """How the sought time (or an outcome) grows with the wall: ``thermokit scale``."""
    from thermokit.studies.scale_up import FACTORS, scale_up

    found: ScaleUp = tabled(scale_up(case, factors or FACTORS, inputs, of, material, progress))
    return found


def sweep(
    case: Any, table: str | Path, *, workers: int | None = None, scheduler: str | None = None, progress: Any = None
) -> FoundTable:
    """The table of all rows of the ``[sweep]`` of a case, kept in the file ``table``: ``thermokit sweep``.

    It goes on where it was stopped; a finished table is read. workers : processes (1: this one); a script with more must be
    guarded by ``if __name__ == "__main__"``.
    """
    from thermokit.studies.interface_answers import FoundTable
    from thermokit.studies.sweep import sweep as run_rows

    target = Path(table)
    found, before = run_rows(as_case(case), target, workers, scheduler, progress)
    return FoundTable(found, target, before)


def fit(case: Any, log: str | Path | None = None, progress: Told = None) -> CaseFit:
    """The unknown inputs of a case from a logger's file and trials, as its ``[fit]`` says: ``thermokit fit``."""
    from thermokit.studies.fit import fit_case

    found: CaseFit = tabled(fit_case(as_case(case), log, progress))
    return found


def thermocouple(
    case: Any, *, of: str | None = None, noise: float = 0.5, offset: float = 0.75, place: float = 1e-4, usual: bool = False,
    at: Any = None, progress: Told = None,
) -> Couple:  # fmt: skip
    """Where one couple tells most, and when: ``thermokit thermocouple``; noise, offset [K], place [m] : standard deviations."""
    from thermokit.studies.thermocouple import thermocouple as look

    case = as_case(case)
    found: Couple = tabled(look(case, of, noise, offset, place, usual, setting_value(case, at), progress))
    return found


def verify(case: Any, progress: Told = None) -> Verification:
    """A case solved again, finer and with a second engine: ``thermokit verify``."""
    from thermokit.studies.verify import verify as solve_again

    found: Verification = tabled(solve_again(as_case(case), progress))
    return found
