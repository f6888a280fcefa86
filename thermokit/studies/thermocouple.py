"""Where to put one couple so that it tells most about what decides, given how far the inputs of a case may be off.

The case is run with each error of its ``[tolerances]`` one standard deviation up and down; the halved differences are how every
place reads it. :mod:`thermokit.studies.thermocouple_linear` says what is left of the spread of the deciding margin once a
couple at a place has been read, over the whole run or over a short stretch of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case import sought_path
from thermokit.conduction.mesh import TIME_SHARE
from thermokit.errors import CaseError, Mistake, SolveError
from thermokit.processes import direct_of, process_of
from thermokit.processes.run import rows_of, settled
from thermokit.results.digits import difference_unit
from thermokit.studies.run import as_case
from thermokit.studies.thermocouple_linear import gathered, left_of, told_of
from thermokit.studies.tolerance import drawn

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from thermokit.conduction.problem import Array

NOISE = 0.5  # K, one standard deviation of a reading; common practice, no source
OFFSET = 0.75  # K, likewise: half of the 1.5 K that class 1 of type K may be off (IEC 60584-1, from memory)
PLACE = 1e-4  # m, likewise, of the depth at which a couple really lies; common practice, no source
STRETCH = 0.1  # of the run, the short stretch that is looked for
ROWS = 200  # readings of a run
STEEP = 5e3  # K/m, beyond which a couple of 0.25 mm disturbs what it reads; common practice, no source


@dataclass(frozen=True)
class Place:
    """A place for the couple: words, depth [m] (x, y of a section), what is left of the outcome's standard deviation with it.

    left : after the whole run; first, last : the short stretch that tells most [s]; left_then : after that alone; steep : largest
    gradient there in that stretch [K/m].
    """

    words: str
    at: tuple[float, ...]
    left: float
    first: float
    last: float
    left_then: float
    steep: float


@dataclass(frozen=True)
class Couple:
    """The answer.

    of : the margin or outcome that it is about, in ``unit``; spread : its standard deviation by the tolerances; names : of the
    errors; weights : change of the outcome for one standard deviation of each; best : the place that tells most about it; surest :
    that which tells most of all unknowns together (D-optimal); depths (places, dims), left (places,) [unit], told (places,) : all
    places; faces : what is left with a couple on either face; start, end [s] of the run.
    """

    case: Any
    of: str
    unit: str
    spread: float
    names: tuple[str, ...]
    weights: Array
    best: Place
    surest: Place
    depths: Array
    left: Array
    told: Array
    faces: tuple[Place, ...]
    noise: float
    offset: float
    place: float
    notes: tuple[str, ...] = ()

    @property
    def taken(self) -> float:
        """Share of the outcome's variance that a couple at the best place takes away."""
        return 1.0 - (self.best.left / self.spread) ** 2


@dataclass(frozen=True)
class _Ran:
    """One run: temperatures (times, places) [K], the outcomes by name with their units."""

    temperature: Array
    outcomes: dict[str, tuple[float, str]]


def thermocouple(
    case: Any,
    of: str | None = None,
    noise: float = NOISE,
    offset: float = OFFSET,
    place: float = PLACE,
    usual: bool = False,
    setting: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> Couple:
    """The best place for one couple.

    Parameters
    ----------
    case : Case or path
        with ``[tolerances]``; what it seeks is set to the recommended value (or to ``setting`` [SI])
    of : str, optional
        name of a limit (its margin) or of an outcome; left out, the margin that is most likely to be broken
    noise, offset, place : float
        one standard deviation of a reading and of the couple's own offset [K], and of its depth [m]
    usual : bool
        with the tolerances usual in the shop

    Raises
    ------
    CaseError
        nothing varies, no such outcome, or sizes of a section vary (its mesh would move)
    SolveError
        a run does not finish, or no error moves the outcome

    """
    from thermokit.studies.tolerance_study import recommended, toleranced

    case = toleranced(as_case(case), usual)
    told = progress or (lambda share: None)
    path = sought_path(case)
    notes: list[str] = []
    if path is not None:
        value = setting if setting is not None else recommended(case, path)
        case = case.with_values({path: value})
    case = _without_durations(case, notes)
    names = tuple(case.tolerances)
    told(0.2)
    runs = _runs(case, names, told)
    times, depths, words, gradient = runs.axes
    nominal, ups, downs = runs.rows[0], runs.rows[1::2], runs.rows[2::2]
    signal = np.stack([(a.temperature - b.temperature) / 2.0 for a, b in zip(ups, downs, strict=True)], axis=-1)
    name, unit, weights = _outcome(case, of, nominal, ups, downs)
    spread = float(np.linalg.norm(weights))
    if not spread > 0.0:
        raise SolveError(f"no error in [tolerances] moves {name}: there is nothing to tell about it")
    sums = gathered(signal, gradient, noise, offset, place)
    left, sure = left_of(sums[-1], weights), told_of(sums[-1], len(names))

    def seen(i: int) -> Place:
        return _place(i, words[i], depths[i], times, sums[:, i], weights, float(left[i]), gradient[:, i])

    faces = tuple(seen(i) for i in (0, len(depths) - 1)) if depths.shape[1] == 1 else ()
    return Couple(
        case=case,
        of=name,
        unit=unit,
        spread=spread,
        names=names,
        weights=weights,
        best=seen(int(np.argmin(left))),
        surest=seen(int(np.argmax(sure))),
        depths=depths,
        left=left,
        told=sure,
        faces=faces,
        noise=noise,
        offset=offset,
        place=place,
        notes=tuple(notes),
    )


def _place(
    i: int, words: str, at: Array, times: Array, sums: Array, weights: Array, left: float, gradient: Array
) -> Place:
    """A place with the short stretch of the run that tells most there."""
    many = len(times)
    width = max(1, round(STRETCH * many))
    begins = np.arange(0, many - width + 1)
    own = left_of(sums[begins + width] - sums[begins], weights)
    b = int(np.argmin(own))
    here = np.abs(gradient[b : b + width])
    steep = float(np.nanmax(here)) if np.isfinite(here).any() else 0.0
    first, last = float(times[b]), float(times[min(b + width - 1, many - 1)])
    return Place(words, tuple(float(x) for x in at), left, first, last, float(own[b]), steep)


def _without_durations(case: Any, notes: list[str]) -> Any:
    """The case without tolerances of times: readings of runs of other lengths do not stand beside each other."""
    timed = [name for name, t in case.tolerances.items() if any(p.endswith("duration") for p in t.inputs(name))]
    timed += [name for name in case.tolerances if name not in timed and _moves_times(case, name)]
    if timed:
        notes.append(f"errors of times are left out: {', '.join(timed)}")
        case = replace(case, tolerances={name: t for name, t in case.tolerances.items() if name not in timed})
    if not case.tolerances:
        raise CaseError(case.source.file, [Mistake("tolerances", "only times vary", "an input that is no time")])
    return case


def _moves_times(case: Any, name: str) -> bool:
    """Whether an error changes how long a station takes: times of lines and cylinders follow from speed, length and mass."""
    alone = replace(case, tolerances={name: case.tolerances[name]})
    nominal, *others = [_durations(case.with_values(values)) for values in _errors(alone, (name,))]
    return any(found != nominal for found in others)


def _durations(case: Any) -> list[float | None]:
    return [getattr(station, "duration", None) for station in getattr(case, "stations", ())]


@dataclass(frozen=True)
class _Runs:
    """Nominal run, then each error up and down; axes : times (t,) [s], depths (p, dims) [m], words, gradient (t, p) [K/m]."""

    rows: tuple[_Ran, ...]
    axes: tuple[Array, Array, tuple[str, ...], Array]


def _errors(case: Any, names: Sequence[str]) -> list[dict[str, float]]:
    """Values of the inputs: as meant, then each error one standard deviation up and down [SI]."""
    from scipy.special import ndtr

    points = np.full((1 + 2 * len(names), len(names)), 0.5)
    for i in range(len(names)):
        points[1 + 2 * i, i], points[2 + 2 * i, i] = ndtr(1.0), ndtr(-1.0)
    columns = drawn(case, points)
    return [{}, *({path: float(column[k]) for path, column in columns.items()} for k in range(1, len(points)))]


def _runs(case: Any, names: Sequence[str], told: Callable[[float], None]) -> _Runs:
    rows = _errors(case, names)
    if direct_of(case) is not None:
        return _runs_direct(case, rows, told)
    process = process_of(case)
    solved = settled(case, process)
    tolerance = TIME_SHARE * float(case.accuracy.temperature) / 4.0  # differences of runs need tighter ones
    durations = [float(station.duration) for station in case.stations]
    times = rows_of(replace(case, output=replace(case.output, every=sum(durations) / ROWS, times=None)), durations)
    found = []
    nominal: Any = None
    for k, values in enumerate(rows):
        ran, history = _follow(case.with_values(values), solved.edges, times, tolerance)
        nominal = nominal if nominal is not None else history
        found.append(ran)
        told(0.2 + 0.7 * (k + 1) / len(rows))
    depth = np.concatenate([[0.0], nominal.centres, [nominal.edges[-1]]])
    with np.errstate(invalid="ignore"):
        gradient = np.gradient(found[0].temperature, depth, axis=1)
    words = tuple(process.place(float(d)) for d in depth)
    return _Runs(tuple(found), (np.asarray(nominal.time), depth[:, None], words, gradient))


def _follow(case: Any, edges: Any, times: Array, tolerance: float) -> tuple[_Ran, Any]:
    """One run of a layered case on a given mesh."""
    from thermokit.studies.comparison import followed

    process = process_of(case)
    travel = followed(process.course(edges), times, tolerance, process.memory(edges, None, tolerance))
    history = travel.history
    facts = process.facts(travel, edges, tolerance)
    quantities = process.quantities(facts)
    told = {o.name: (np.nan if o.value is None else float(o.value), o.unit) for o in process.outcomes(history, facts)}
    told |= {
        f"margin of {x.name}": (float(np.ravel(x.margin(quantities[x.quantity]))[0]), x.margin_unit)
        for x in process.limits()
    }
    profile = np.column_stack([history.inner_face, history.temperature, history.outer_face])
    return _Ran(profile, told), history


def _runs_direct(case: Any, rows: Sequence[dict[str, float]], told: Callable[[float], None]) -> _Runs:
    """Runs of a section or a mould: places are the nodes of its mesh, which must stay where they are."""
    found: list[_Ran] = []
    first: Any = None
    for k, values in enumerate(rows):
        direct: Any = direct_of(case.with_values(values))
        result = direct.result(None, {})
        history = result.history
        if history.ending.status != "finished":
            raise SolveError(f"a run stopped: {history.ending.status.replace('_', ' ')}", history.ending.advice)
        first = first if first is not None else history
        mesh = history.mesh
        if history.temperature.shape != first.temperature.shape or not np.allclose(mesh.x, first.mesh.x, atol=1e-9):
            raise CaseError(
                case.source.file,
                [
                    Mistake(
                        "tolerances", "sizes vary, and the mesh with them", "errors that move no place of the section"
                    )
                ],
            )
        outcomes = {o.name: (np.nan if o.value is None else float(o.value), o.unit) for o in result.outcomes}
        outcomes |= {
            f"margin of {c.name}": (np.nan if c.margin is None else float(c.margin), difference_unit(c.unit))
            for c in result.limits
        }
        found.append(_Ran(np.asarray(history.temperature), outcomes))
        told(0.2 + 0.7 * (k + 1) / len(rows))
    x, y = np.asarray(first.mesh.x), np.asarray(first.mesh.y)
    words = tuple(f"x = {1e3 * a:.3g} mm, y = {1e3 * b:.3g} mm" for a, b in zip(x, y, strict=True))
    return _Runs(
        tuple(found), (np.asarray(first.time), np.stack([x, y], axis=1), words, np.zeros(first.temperature.shape))
    )


def _outcome(
    case: Any, of: str | None, nominal: _Ran, ups: Sequence[_Ran], downs: Sequence[_Ran]
) -> tuple[str, str, Array]:
    """(name, unit, change for one standard deviation of each error) of what the couple is to tell about."""
    known = nominal.outcomes
    if of is not None:
        name = of if of in known else f"margin of {of}"
        if name not in known:
            from thermokit.case.mistakes import nearest

            plain = [n.removeprefix("margin of ") for n in known]
            what = f'"{of}" is no outcome or limit of this case'
            raise CaseError(case.source.file, [Mistake("of", what, ", ".join(plain), nearest(of, plain))])
        return name, known[name][1], _weights(name, ups, downs)
    margins = [name for name in known if name.startswith("margin of ") and np.isfinite(known[name][0])]
    if not margins:
        raise CaseError(
            case.source.file, [Mistake("limits", "nothing limits the part", "a limit, or an outcome that is named (--of)")]
        )  # fmt: skip
    spreads = {name: float(np.linalg.norm(_weights(name, ups, downs))) for name in margins}
    moved = [name for name in margins if spreads[name] > 0.0]
    name = min(moved or margins, key=lambda n: known[n][0] / max(spreads[n], 1e-12))
    return name, known[name][1], _weights(name, ups, downs)


def _weights(name: str, ups: Sequence[_Ran], downs: Sequence[_Ran]) -> Array:
    nothing = (np.nan, "")
    found = [
        (a.outcomes.get(name, nothing)[0] - b.outcomes.get(name, nothing)[0]) / 2.0
        for a, b in zip(ups, downs, strict=True)
    ]
    return np.asarray(np.nan_to_num(np.array(found)))
