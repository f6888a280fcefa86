"""How the answer grows with the wall (or another input): the sought time at other sizes, and the exponent n of t ~ L^n.

    n = ln(t_2/t_1)/ln(L_2/L_1)

n = 1 where heat comes or goes no faster whatever the wall is (flux-limited), 2 where the wall itself holds the heat up
(conduction-limited: t ~ L^2/a), 0 where a reaction takes its time whatever the wall is (kinetics-limited). The limit that decides
now is followed through all sizes, also where another one would close the window there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case import numeric_paths, sought_path
from thermokit.errors import CaseError, Mistake, SolveError
from thermokit.studies.answers import answers_of, plan_of
from thermokit.studies.run import as_case
from thermokit.studies.scale_up_reason import Reason, reason_of
from thermokit.studies.sought import bounds_of, scale_of
from thermokit.studies.window import wants_high

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from thermokit.conduction.problem import Array
    from thermokit.studies.answers_plan import Plan

FACTORS = (1.5, 2.0)
STEEPEST = 2.5  # exponent up to which an answer is looked for
POINTS, INSIDE = 25, 9  # settings of the first look for each size, and inside each bracket
SLOW, SLOW_ROUNDS = 4, 2  # where each is a run of its own: then at the crossing of the straight line
OF_PART = ("sheet", "charge", "body", "line", "former", "part", "band")  # tables that hold the part itself
HELD_BY_WALL = 2.0  # Biot number beyond which the outside is not what holds heat up; common sense, no source
FLUX, CONDUCTION, KINETICS = "flux-limited", "conduction-limited", "kinetics-limited"


@dataclass(frozen=True)
class Size:
    """One size: factor on the inputs, the value of the first of them [SI], the answer, and what t ~ L^2 would give.

    answer : in the answer's unit, None where it is not reached; exponent : of the time, from the size of the case to this one.
    """

    factor: float
    size: float
    answer: float | None
    by_square: float | None
    exponent: float | None


@dataclass(frozen=True)
class ScaleUp:
    """The answer.

    paths : inputs that grow together, with ``dimension`` of the first; of : what is told, in ``unit`` (the sought setting, or an
    outcome); limit : that decides it, empty for an outcome; inverse : the time goes as one over it (a speed); exponent : over
    all sizes, None where there is none; material : (name, answer, ratio of times by the model, by flux, by conduction) of another
    one.
    """

    case: Any
    paths: tuple[str, ...]
    dimension: str
    of: str
    unit: str
    limit: str
    inverse: bool
    sizes: tuple[Size, ...]
    exponent: float | None
    reason: Reason | None
    material: OtherMaterial | None = None
    notes: tuple[str, ...] = ()

    @property
    def regime(self) -> str:
        """The exponent in words."""
        return regime(self.exponent, self.reason)


@dataclass(frozen=True)
class OtherMaterial:
    """The same part of another material: the answer, and ratios of the times by the model and by the two simple laws."""

    name: str
    answer: float | None
    ratio: float | None
    by_flux: float | None
    by_conduction: float | None


def regime(exponent: float | None, reason: Reason | None = None) -> str:
    """What an exponent of the time over the wall says; bounds between regimes are common sense, no source.

    >>> regime(1.05), regime(1.9), regime(0.1), regime(1.5)
    ('flux-limited', 'conduction-limited', 'kinetics-limited', 'between flux-limited and conduction-limited')
    """
    if exponent is None:
        return "not told"
    if reason is not None and reason.reacts and reason.biot > HELD_BY_WALL and 0.3 <= exponent < 1.75:
        return f"between {KINETICS} and {CONDUCTION}"
    if exponent < 0.3:
        return KINETICS if reason is None or reason.reacts else "hardly dependent on it"
    if exponent < 0.75:
        return f"between {KINETICS} and {FLUX}" if reason is None or reason.reacts else "less than proportional"
    if exponent <= 1.25:
        return FLUX
    return f"between {FLUX} and {CONDUCTION}" if exponent < 1.75 else CONDUCTION


def scale_up(
    case: Any,
    factors: Sequence[float] = FACTORS,
    paths: Sequence[str] | None = None,
    of: str | None = None,
    material: str | None = None,
    progress: Callable[[float], None] | None = None,
) -> ScaleUp:
    """The sought setting (or an outcome) at other sizes.

    Parameters
    ----------
    case : Case or path
        with something to be found and limits, or any case with ``of``
    factors : sequence of float
        on the inputs, each above 0; 1 is always there
    paths : sequence of str, optional
        inputs that grow together; left out, the thickness of the part (all its layers, and probes with them)
    of : str, optional
        an outcome, told as it is where nothing is sought
    material : str, optional
        another material in place of the part's

    Raises
    ------
    CaseError
        nothing is sought and no outcome named; the case has no thickness of a part; a factor that is no number above 0
    SolveError
        the case has no edge of a window to begin with

    """
    case = as_case(case)
    told = progress or (lambda share: None)
    grown = tuple(paths) if paths is not None else part_paths(case)
    sizes = _checked(case, factors)
    path = sought_path(case)
    if of is None and path is None:
        words = "nothing is sought in this case, and no outcome is named"
        raise CaseError(case.source.file, [Mistake("of", words, 'one input with "find", or an outcome (--of)')])
    notes = []
    follow = _probes(case, grown) if paths is None else ()
    if follow:
        notes.append("places that are followed move with the layers: they keep their share of the depth")
    values = {p: float(case.value(p)) * np.array(sizes) for p in (*grown, *follow)}
    if of is not None or path is None:
        found, unit, limit, inverse = _outcomes(case, values, str(of)), "", "", False
        answers, unit = found
        setting = None
    else:
        edge = _edge(case, path)
        answers = _followed(case, path, edge, values, told)
        scale = scale_of(case, path)
        unit, limit, inverse, setting = scale.unit, edge[1], scale.dimension == "speed", edge[0]
    told(0.8)
    rows, exponent = _rows(sizes, values[grown[0]], answers, unit, inverse)
    reason = reason_of(case, path, setting, limit) if path is not None and setting is not None else None
    other = _of_material(case, path, setting, limit, material, answers[sizes.index(1.0)], reason) if material else None
    return ScaleUp(
        case=case,
        paths=grown,
        dimension=numeric_paths(case)[grown[0]][1] if grown[0] in numeric_paths(case) else scale_of(case, grown[0]).dimension,
        of=str(of) if of is not None else str(path),
        unit=unit,
        limit=limit,
        inverse=inverse,
        sizes=rows,
        exponent=exponent,
        reason=reason,
        material=other,
        notes=tuple(notes),
    )  # fmt: skip


def part_paths(case: Any) -> tuple[str, ...]:
    """Paths of the thickness of the part: one, or one a layer. Raises CaseError where the case has none."""
    names = numeric_paths(case)
    found = [p for p in names if p.split(".")[0] in OF_PART and p.rsplit(".", 1)[-1] == "thickness"]
    found = [p for p in found if not {"loose", "fabric", "ribs"} & set(p.split("."))]
    found += [p for p in names if p.startswith("stations.") and ".layers." in p and p.endswith(".thickness")]
    if not found:
        raise CaseError(
            case.source.file,
            [Mistake("input", "the case has no thickness of a part", "the path of an input (--input)",
                     "`thermokit check --paths` lists them")],
        )  # fmt: skip
    return tuple(found)


def _probes(case: Any, grown: Sequence[str]) -> tuple[str, ...]:
    """Depths of probes, which go with the layers of a body."""
    if not all(path.startswith("body.layers.") for path in grown):
        return ()
    return tuple(p for p in numeric_paths(case) if p.startswith("output.probes.") and p.endswith(".at"))


def _checked(case: Any, factors: Sequence[float]) -> list[float]:
    """The factors in order, with 1 among them."""
    numbers = np.asarray(list(factors), float)
    if numbers.size == 0 or not np.all(np.isfinite(numbers)) or numbers.min() <= 0.0 or numbers.max() > 100.0:
        raise CaseError(
            case.source.file,
            [Mistake("factors", "no such factors", "numbers above 0 and up to 100, such as 1.5 and 2")],
        )
    return sorted({1.0, *(float(f) for f in numbers)})


def _edge(case: Any, path: str) -> tuple[float, str, bool]:
    """(setting [SI], limit that makes it, whether it begins to be met there): the edge that says how long."""
    from thermokit.studies.dwell import window_of

    window = window_of(case)
    first = (window.earliest, window.earliest_limit, True)
    last = (window.latest, window.latest_limit, False)
    order = (last, first) if wants_high(path) or window.earliest_limit is None else (first, last)
    for setting, limit, rises in order:
        if setting is not None and limit is not None:
            return float(setting), limit, rises
    raise SolveError("nothing to scale: the case has no window with a limit at its edge; `thermokit dwell` tells why")


def _followed(
    case: Any, path: str, edge: tuple[float, str, bool], values: dict[str, Array], told: Callable[[float], None]
) -> list[float | None]:
    """The setting at which the deciding limit is just met, for every size [shown unit]."""
    base, limit, rises = edge
    low, high = bounds_of(case, path)
    factors = next(iter(values.values())) / float(case.value(next(iter(values))))
    far = np.maximum(factors, 1.0 / factors) ** STEEPEST
    thicker = all(p.endswith(".thickness") or p.startswith("output.") for p in values) and np.all(factors >= 1.0)
    least, most = (np.ones_like(far) if thicker else 1.0 / far) * 0.7, far * 1.3
    if scale_of(case, path).dimension == "speed":
        least, most = 1.0 / most, 1.0 / least
    first, last = np.maximum(base * least, low), np.minimum(base * most, max(high, base * 1.3))
    ends = {p: np.repeat(v, 2) for p, v in values.items()}
    ends[path] = np.stack([first, last], axis=1).ravel()
    plan = plan_of(case.with_values({path: base}), ends)
    slow = plan.one_by_one
    other = factors != 1.0  # the size of the case has its answer already
    values = {p: v[other] for p, v in values.items()}
    settings = np.geomspace(first[other], last[other], SLOW if slow else POINTS, axis=1)
    index = [name for name, _ in plan.limits].index(limit)
    margins = _margins(plan, values, path, settings, index)
    told(0.5)
    for _ in range(SLOW_ROUNDS if slow else 1):
        more = []
        for own, row in zip(settings, margins, strict=True):
            i = _bracket(row, rises)
            a, b = (own[i], own[i + 1]) if i is not None else (own[0], own[1])
            middle = _crossing(own, row, rises) or float(np.sqrt(a * b))
            more.append([middle] if slow else np.linspace(a, b, INSIDE + 2)[1:-1])
        fresh = _margins(plan, values, path, np.array(more), index)
        settings = np.concatenate([settings, np.array(more)], axis=1)
        margins = np.concatenate([margins, fresh], axis=1)
        order = np.argsort(settings, axis=1, kind="stable")
        settings, margins = np.take_along_axis(settings, order, 1), np.take_along_axis(margins, order, 1)
    found = iter([_crossing(own, row, rises) for own, row in zip(settings, margins, strict=True)])
    scale = scale_of(case, path)
    return [scale.shown(next(found) if away else base) for away in other]


def _margins(plan: Plan, values: dict[str, Array], path: str, settings: Array, index: int) -> Array:
    """Margin of the deciding limit, (sizes, settings)."""
    many = settings.shape[1]
    rows = {p: np.repeat(v, many) for p, v in values.items()} | {path: settings.ravel()}
    return np.asarray(answers_of(plan, rows).margins[index].reshape(settings.shape))


def _bracket(row: Array, rises: bool) -> int | None:
    """Number of the setting after which the limit begins (or ceases) to be met."""
    met = row >= 0.0
    turn = (~met[:-1] & met[1:]) if rises else (met[:-1] & ~met[1:])
    turn &= np.isfinite(row[:-1]) & np.isfinite(row[1:])
    at = np.flatnonzero(turn)
    return int(at[0 if rises else -1]) if len(at) else None


def _crossing(settings: Array, row: Array, rises: bool) -> float | None:
    i = _bracket(row, rises)
    if i is None:
        return None
    share = row[i] / (row[i] - row[i + 1])
    return float(settings[i] + share * (settings[i + 1] - settings[i]))


def _outcomes(case: Any, values: dict[str, Array], of: str) -> tuple[list[float | None], str]:
    """(an outcome for every size, its unit)."""
    plan = plan_of(case, values, [of])
    found = answers_of(plan, values)
    return [float(v) if np.isfinite(v) else None for v in found.outcomes[of]], found.units[of]


def _rows(
    sizes: Sequence[float], lengths: Array, answers: Sequence[float | None], unit: str, inverse: bool
) -> tuple[tuple[Size, ...], float | None]:
    """(each size with its exponent, the exponent over all of them)."""
    base = answers[list(sizes).index(1.0)]
    sign = -1.0 if inverse else 1.0
    ratios = unit not in ("degC", "degF", "K")  # temperatures have none
    rows = []
    for factor, length, answer in zip(sizes, lengths, answers, strict=True):
        own = None
        if ratios and factor != 1.0 and base and answer and answer / base > 0.0:
            own = float(sign * np.log(answer / base) / np.log(factor))
        square = base * factor ** (2.0 * sign) if base is not None and ratios else None
        rows.append(Size(factor, float(length), answer, square, own))
    known = [(f, a) for f, a in zip(sizes, answers, strict=True) if a is not None and a > 0.0]
    if not ratios or len(known) < 2:
        return tuple(rows), None
    (f1, a1), (f2, a2) = known[0], known[-1]
    return tuple(rows), float(sign * np.log(a2 / a1) / np.log(f2 / f1))


def _of_material(
    case: Any, path: str | None, setting: float | None, limit: str, name: str, base: float | None, reason: Reason | None
) -> OtherMaterial:
    """The same case of another material."""
    from thermokit.case.values import LibraryName
    from thermokit.case.walk import leaves
    from thermokit.studies.compare_changes import changed

    own = [
        leaf.name
        for leaf in leaves(case)
        if isinstance(leaf.kind, LibraryName)
        and leaf.kind.room == "materials"
        and leaf.path[0] in OF_PART
        and leaf.value
    ]
    if len(own) != 1 or path is None or setting is None:
        words = "nothing is sought" if path is None else f"the part has {len(own)} materials"
        allowed = "a part of one material and something to be found"
        raise CaseError(case.source.file, [Mistake("material", words, allowed, "`thermokit compare` sets any of them")])
    other = changed(case, {own[0]: name})
    try:
        edge = _edge(other, path)
        answer: float | None = scale_of(other, path).shown(edge[0])
        if edge[1] != limit:
            answer = None
    except SolveError:
        answer = None
    ratio = answer / base if answer and base else None
    if ratio is not None and scale_of(case, path).dimension == "speed":
        ratio = 1.0 / ratio
    new = reason_of(other, path, setting)
    flux = conduction = None
    if reason is not None and new is not None:
        flux, conduction = new.capacity / reason.capacity, reason.diffusivity / new.diffusivity
    return OtherMaterial(name, answer, ratio, flux, conduction)
