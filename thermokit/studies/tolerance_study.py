"""How many parts in a hundred come out right, which limits the others break, what that comes from, and the best setting.

Parts are drawn from the tolerances as several independent scrambles of a Sobol sequence: the scatter of their shares is the
standard error of the whole (Owen 1997, randomised quasi-Monte Carlo). All draws share one setting; how the share changes with
the setting is found by :func:`thermokit.studies.tolerance.shares`, as for `thermokit dwell`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.case import sought_path
from thermokit.case.tolerances import usual_of
from thermokit.errors import CaseError, Mistake
from thermokit.processes import direct_of, process_of
from thermokit.studies.run import as_case
from thermokit.studies.sought import Scale, bounds_of, scale_of
from thermokit.studies.tolerance import SEED, drawn
from thermokit.studies.tolerance_causes import Causes, causes_of, corners
from thermokit.studies.tolerance_parts import Parts, bounds_at, limited, parts_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from thermokit.conduction.problem import Array
    from thermokit.processes.base import Limit
    from thermokit.studies.tolerance import Shares
    from thermokit.studies.window import Window

SCRAMBLES = 16  # independent ones of which the draws are made
MOST_DRAWS = 2**20
LOT, FEW = 16_384, 8  # parts that are solved at a time, side by side or one by one
HALVED = 1024  # draws for what a smaller tolerance would give


@dataclass(frozen=True)
class Broken:
    """Parts that one limit counts out: its name, share of parts that break it, of those that break it alone; what it means."""

    limit: str
    share: float
    alone: float
    words: str


@dataclass(frozen=True)
class Worst:
    """A part at the bad end: the limit, its margin there [unit], and the errors: path -> (value, nominal) [SI].

    together : all errors at their two standard deviations at once, instead of the worst credible part.
    """

    limit: str
    margin: float
    unit: str
    inputs: dict[str, tuple[float, float]]
    together: bool


@dataclass(frozen=True)
class Scatter:
    """The answer, in SI.

    setting : at which parts are drawn, None where nothing is sought; inside, error : share of good parts and its standard
    error; steps : (draws, share, standard error) as the number of draws grew; failed : parts that could not be solved (they
    count as bad); best_inside : share at the best setting, from as many draws; nominal : limit -> (margin, unit) of the part as
    it is meant; window, shares : against the setting, None without one; halved : (name, share of good parts) with half the
    largest cause's tolerance; margins : (limits, draws) of every part [SI]; amounts : whether these are amounts of what is
    limited, else only their sign is meant.
    """

    case: Any
    path: str | None
    setting: float | None
    scale: Scale
    draws: int
    seed: int
    inside: float
    error: float
    broken: tuple[Broken, ...]
    failed: int
    steps: tuple[tuple[int, float, float], ...]
    nominal: dict[str, tuple[float, str]]
    limits: tuple[Limit, ...]
    causes: Causes
    worst: tuple[Worst, ...]
    window: Window | None = None
    shares: Shares | None = None
    halved: tuple[str, float] | None = None
    best_inside: float | None = None
    margins: Array | None = None
    amounts: bool = True
    notes: tuple[str, ...] = ()

    @property
    def best(self) -> float | None:
        """The setting with the best share of parts, None where nothing is sought."""
        if self.shares is None or self.window is None:
            return None
        return _best(self.window, self.shares)


def scatter(
    case: Any,
    draws: int | None = None,
    seed: int = SEED,
    setting: float | None = None,
    usual: bool = False,
    progress: Callable[[float], None] | None = None,
) -> Scatter:
    """How many parts come out right.

    Parameters
    ----------
    case : Case or path
        with ``[tolerances]`` and limits; where it leaves something to be found, parts are drawn at the setting with the best
        share
    draws : int, optional
        parts that are drawn, rounded up to a power of two; left out, as many as take some ten seconds
    seed : int
        of the draws: the same seed, the same parts
    setting : float, optional
        value of what is sought [SI] at which parts are drawn instead
    usual : bool
        add the tolerances usual in the shop for inputs that have none
    progress : callable, optional
        told the share that is done

    Raises
    ------
    CaseError
        no tolerance, no limit, a setting where nothing is sought, no window where none is given

    """
    case = toleranced(as_case(case), usual)
    told = progress or (lambda share: None)
    path = sought_path(case)
    if path is None and setting is not None:
        raise CaseError(
            case.source.file,
            [Mistake("--at", "nothing is sought in this case", 'one input with "find"', "change it in the case")],
        )
    if path is not None and setting is not None:
        _check_setting(case, path, setting)
    window, shared, parts, setting = _made_ready(case, path, setting, told)
    told(0.5)
    per, scrambles = _lots(draws, parts.most)
    uniform = np.concatenate([_sobol(len(case.tolerances), per, seed + i) for i in range(scrambles)])
    margins = _solved(parts, uniform, lambda share: told(0.5 + 0.35 * share))
    good = _good(margins)
    causes = causes_of(parts.case.tolerances, uniform, margins)
    nominal, worst = _ends(parts, causes)
    told(0.9)
    best_inside = float(good.mean())
    if path is not None and shared is not None and window is not None:
        best = _best(window, shared)
        if best is not None and best != setting:
            best_inside = _inside(_solved(parts.at(case, path, best), uniform, lambda share: None))
    return Scatter(
        case=parts.case,
        path=path,
        setting=setting,
        scale=scale_of(case, path) if path is not None else Scale(),
        draws=len(uniform),
        seed=seed,
        inside=float(good.mean()),
        error=_error(good.reshape(scrambles, per)),
        broken=_broken(parts.limits, margins),
        failed=int(np.isnan(margins).any(axis=0).sum()),
        steps=_steps(good.reshape(scrambles, per)),
        nominal=nominal,
        limits=parts.limits,
        causes=causes,
        worst=worst,
        window=window,
        shares=shared,
        halved=_halved(parts, causes, min(HALVED, len(uniform)), seed) if parts.together else None,
        best_inside=best_inside if shared is not None else None,
        margins=margins,
        amounts=parts.amounts,
        notes=(parts.note,) if parts.note else (),
    )


def _check_setting(case: Any, path: str, setting: float) -> None:
    low, high = bounds_at(case, path)
    if not low <= setting <= high:
        scale = scale_of(case, path)
        what, allowed = f"{scale.plain(setting)} is out of range", f"{scale.plain(low)} to {scale.plain(high)}"
        raise CaseError(case.source.file, [Mistake("--at", what, allowed)])


def _made_ready(
    case: Any, path: str | None, setting: float | None, told: Callable[[float], None]
) -> tuple[Window | None, Shares | None, Parts, float | None]:
    """(window, shares against the setting where parts are solved side by side, the parts, the setting at which they are drawn)."""
    if path is None:
        return None, None, parts_of(case), None
    window, ask = about(case, path)
    told(0.2)
    if window.earliest is None and setting is None:
        raise _no_window(case, path, window)
    first = setting if setting is not None else _best(window, None)
    parts = parts_of(case, path, first)
    told(0.3)
    shared = ask() if parts.together else None
    if setting is None and shared is not None:
        setting = _best(window, shared)
        parts = parts.at(case, path, setting)
    return window, shared, parts, first if setting is None else setting


def toleranced(case: Any, usual: bool) -> Any:
    """The case with tolerances, those usual in the shop added. Raises CaseError where it has none."""
    if usual:
        from thermokit.case.tolerances import by_path

        inputs = by_path(case)
        taken = {inputs[p].path: p for name, t in case.tolerances.items() for p in t.inputs(name)}
        case = replace(case, tolerances={**case.tolerances, **usual_of(case, taken)})
    if not case.tolerances:
        raise CaseError(
            case.source.file,
            [Mistake("tolerances", "the case says nothing of how far its inputs may be off",
                     '[tolerances] with lines such as "sheet.thickness" = "± 4 %"',
                     "--usual takes those usual in the shop (common practice, no source)")],
        )  # fmt: skip
    return case


def about(case: Any, path: str) -> tuple[Window, Callable[[], Shares | None]]:
    """(window of what is sought, what finds the shares of good parts about it: None without a window or tolerances)."""
    direct = direct_of(case)
    limited(case, direct if direct is not None else process_of(case))
    if direct is None:
        from thermokit.studies.dwell import _settle, _shares

        question, window = _settle(case, path, *bounds_of(case, path), lambda share: None)
        return window, lambda: _shares(question, window) if window.open and case.tolerances else None
    from thermokit.studies import dwell_direct as own

    asking = own.Asking(case, path, direct=direct)
    window = own._settled(asking, *bounds_of(case, path, direct.bounds(path)))
    drawn_too = window.open and direct.draws and case.tolerances
    return window, lambda: own._shares(asking, window, direct.draws) if drawn_too else None


def recommended(case: Any, path: str) -> float:
    """The setting with the best share of parts, else the middle of the window, else where it comes nearest to one [SI]."""
    window, ask = about(case, path)
    best = _best(window, ask())
    return best if best is not None else window.nearest_miss()[0]


def _best(window: Window, shared: Shares | None) -> float | None:
    """What `thermokit dwell` recommends: where nothing limits it upwards, the first setting that is as good as the best."""
    if shared is None:
        return window.middle
    return shared.best if window.latest is not None else shared.first_best


def _no_window(case: Any, path: str, window: Window) -> CaseError:
    at, margins = window.nearest_miss()
    limit, _ = min(margins, key=lambda pair: pair[1])
    scale = scale_of(case, path)
    what = f"no window: nearest at {scale.plain(at)}, where {limit.name} is missed"
    advice = f"`thermokit dwell` tells what would open one; --at {scale.plain(at)!r} draws parts there all the same"
    return CaseError(case.source.file, [Mistake(path, what, "a value at which every limit is met", advice)])


def _lots(draws: int | None, most: int) -> tuple[int, int]:
    """(draws of one scramble, scrambles)."""
    wanted = most if draws is None else min(max(draws, 2), MOST_DRAWS)
    whole = 2 ** int(np.ceil(np.log2(wanted)))
    scrambles = min(SCRAMBLES, max(2, whole // 16))
    return max(whole // scrambles, 1), scrambles


def _sobol(inputs: int, count: int, seed: int) -> Array:
    from scipy.stats import qmc

    return np.asarray(qmc.Sobol(inputs, seed=seed).random_base2(int(np.log2(count))))


def _solved(parts: Parts, uniform: Array, told: Callable[[float], None]) -> Array:
    """Margins (limits, n) of all draws, lot by lot."""
    lot = LOT if parts.together else FEW
    found = []
    for i in range(0, len(uniform), lot):
        found.append(parts.margins(drawn(parts.case, uniform[i : i + lot])))
        told(min(1.0, (i + lot) / len(uniform)))
    return np.concatenate(found, axis=1)


def _error(good: Any) -> float:
    """Standard error of the share from its scatter over scrambles; good (scrambles, draws of each)."""
    shares = good.mean(axis=1)
    own = float(shares.std(ddof=1) / np.sqrt(len(shares)))
    # all alike in every scramble: what plain counting would still leave open
    return max(own, 1.0 / good.size) if own == 0.0 else own


def _steps(good: Any) -> tuple[tuple[int, float, float], ...]:
    """(draws, share, standard error) after 2, 4, 8, 16 scrambles."""
    out = []
    count = 2
    while count <= len(good):
        out.append((int(good[:count].size), float(good[:count].mean()), _error(good[:count])))
        count *= 2
    return tuple(out)


def _broken(limits: Sequence[Limit], margins: Array) -> tuple[Broken, ...]:
    bad = ~(margins >= 0.0) & np.isfinite(margins)
    several = bad.sum(axis=0)
    return tuple(
        Broken(limit.name, float(row.mean()), float((row & (several == 1)).mean()), side_of(limit))
        for limit, row in zip(limits, bad, strict=True)
    )


def side_of(limit: Limit) -> str:
    """What a part is that breaks a limit: too cold, too hot, too low or too high in what the limit looks at."""
    if limit.dimension == "temperature":
        return "too cold" if limit.least else "too hot"
    return "too low" if limit.least else "too high"


def _ends(parts: Parts, causes: Causes) -> tuple[dict[str, tuple[float, str]], tuple[Worst, ...]]:
    """(margins of the nominal part, worst parts of every limit that varies)."""
    tolerances = parts.case.tolerances
    credible, corner = corners(causes, tolerances)
    middle = np.full((1, len(tolerances)), 0.5)
    points = np.concatenate([middle, credible, corner])
    values = drawn(parts.case, points)
    names = list(values)
    meant = {path: float(parts.case.value(path)) for path in names}
    for path, value in meant.items():  # of a measured list the nominal part is the one in the case
        values[path][0] = value
    margins = parts.margins(values)
    count = len(parts.limits)
    nominal = {lim.name: (float(margins[j, 0]), lim.margin_unit) for j, lim in enumerate(parts.limits)}
    found = []
    for together in (False, True):
        for j, limit in enumerate(parts.limits):
            if np.isnan(causes.rest[j]):
                continue
            row = 1 + j + (count if together else 0)
            own = {path: (float(values[path][row]), meant[path]) for path in names}
            found.append(Worst(limit.name, float(margins[j, row]), limit.margin_unit, own, together))
    return nominal, tuple(found)


def _halved(parts: Parts, causes: Causes, draws: int, seed: int) -> tuple[str, float] | None:
    """Share of good parts with half the tolerance of the largest cause."""
    name = causes.names[causes.ranked()[0]]
    tolerance = parts.case.tolerances[name]
    if tolerance.measured:
        return None
    amount = np.sqrt(tolerance.plus_minus) if tolerance.distribution == "lognormal" else tolerance.plus_minus / 2.0
    smaller = replace(tolerance, plus_minus=float(amount))
    case = replace(parts.case, tolerances={**parts.case.tolerances, name: smaller})
    margins = parts.margins(drawn(case, _sobol(len(case.tolerances), draws, seed)))
    return name, _inside(margins)


def _good(margins: Array) -> Any:
    """(n,) whether every limit is met; a part that could not be solved is none."""
    return np.nan_to_num(margins, nan=-np.inf).min(axis=0) >= 0.0


def _inside(margins: Array) -> float:
    return float(_good(margins).mean())
