"""What a fit found, in words and as JSON."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit import units
from thermokit.processes.cautions import DEFERENCE
from thermokit.results.digits import difference_unit
from thermokit.results.plain import plain
from thermokit.studies.fit_data import settings_words

if TYPE_CHECKING:
    from thermokit.studies.fit import CaseFit, FittedFinding, FittedValue
    from thermokit.studies.fit_model import Variable

MISFIT = 2.0  # times what was stated, from which a channel is said not to follow
ZERO_CELSIUS = 273.15


def decimals_of(value: float, width: float) -> int:
    """Decimals of a number of which the width of its interval shows two digits; four digits in all where there is no width.

    >>> decimals_of(432.17, 1.2), decimals_of(12.09, 40.0), decimals_of(0.5512, float("inf"))
    (1, 0, 4)
    """
    if not math.isfinite(width) or width <= 0.0:
        return 4 if value == 0.0 else int(np.clip(3 - math.floor(math.log10(abs(value))), 0, 12))
    return int(np.clip(1 - math.floor(math.log10(width)), 0, 12))


def shown(v: Variable, value: float, decimals: int | None = None) -> str:
    """A value [SI] of a variable with its unit, to so many decimals; to four digits when None."""
    number = _in_shop_unit(v, value)
    places = decimals_of(number, float("inf")) if decimals is None else decimals
    text = f"{number:.{places}f}" if abs(number) < 1e9 else f"{number:.5g}"
    if decimals is None and "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} {units.DIMENSIONS[v.dimension].shop}".rstrip()


def _in_shop_unit(v: Variable, value: float) -> float:
    row = units.DIMENSIONS[v.dimension]
    return float(units.to_unit(value, row.shop, v.dimension))


def _decimals(value: FittedValue) -> int:
    v = value.variable
    ends = [x for x in (value.low, value.high) if x is not None]
    width = max((abs(_in_shop_unit(v, x) - _in_shop_unit(v, value.value)) for x in ends), default=float("inf"))
    return decimals_of(_in_shop_unit(v, value.value), width)


def rounded(value: FittedValue) -> str:
    """The value with its unit, in as many digits as mean something."""
    return shown(value.variable, value.value, _decimals(value))


def written(value: FittedValue) -> str:
    """The value as it goes into a case: to a tenth of what it may be off by all that is told."""
    v = value.variable
    ends = both_ends(value)
    width = max(abs(_in_shop_unit(v, x) - _in_shop_unit(v, value.value)) for x in ends) if ends else float("inf")
    own = _decimals(value)
    return shown(v, value.value, min(own, decimals_of(_in_shop_unit(v, value.value), width / 10.0)))


def both_ends(value: FittedValue) -> tuple[float, float] | None:
    """Interval [SI] by the readings and by the tolerances of other inputs, added by their squares; None where it has no ends."""
    v, at = value.variable, value.interval
    if at.low is None or at.high is None:
        return None
    low, high = (math.hypot(end - at.at, value.by_tolerances) for end in (at.low, at.high))
    return float(v.value(at.at - low)), float(v.value(at.at + high))


def interval_words(value: FittedValue) -> str:
    """The 95 % interval in words."""
    v, decimals = value.variable, _decimals(value)
    low = "" if value.low is None else shown(v, value.low, decimals)
    high = "" if value.high is None else shown(v, value.high, decimals)
    if low and high:
        return f"{low} to {high}"
    if not low and not high:
        return "not told: no end within its bounds"
    return f"at least {low}" if low else f"at most {high}"


def half_words(v: Variable, at: float, half: float) -> str:
    """A half width on the scale of a variable, in its unit or, where it is a factor, as such."""
    if v.log:
        return f"times or divided by {math.exp(half):.3g}"
    of = "temperature_difference" if v.dimension == "temperature" else v.dimension
    return f"± {units.format_(half, of, None, 2)}"


def fit_text(fit: CaseFit) -> str:
    """What the command prints."""
    out = [fit.case.title or "Fit", ""]
    out += _values(fit)
    out += _beside(fit)
    out += _pairs(fit)
    others = [
        "; ".join(f"{v.variable.name} {shown(v.variable, x)}" for v, x in zip(fit.values, at, strict=True))
        for at in fit.others
    ]
    if others:
        out += ["", "Other values fit as well:", *(f"  {words}" for words in others)]
    out += ["", *_words_of_soundness(fit)]
    if fit.notes:
        out += ["", "How the log was read:" if fit.log else "Notes:", *(f"  {note}" for note in fit.notes)]
    return "\n".join(out)


def _values(fit: CaseFit) -> list[str]:
    """The table of the unknowns."""
    out = ["Fitted, with 95 % interval:"]
    width = max(len(v.variable.name) for v in fit.values)
    for v in fit.values:
        before = f"  (case: {shown(v.variable, v.before)})" if v.before is not None else ""
        bound = "; lies at its bound" if v.at_bound else ""
        thought = v.variable
        if thought.expected is not None and thought.deviation is not None and thought.role == "input":
            expected = shown(thought, float(thought.value(thought.expected)))
            bound = f"  (expected {expected} {half_words(thought, 0.0, 2.0 * thought.deviation)}){bound}"
        out.append(f"  {v.variable.name:<{width}}  {rounded(v)}   {interval_words(v)}{before}{bound}")
        if len(v.paths) > 1:
            out.append(f"  {'':<{width}}  the same at {', '.join(v.paths[1:])}")
        if v.variable.role == "input" and v.by_tolerances > 0.0:
            most = max(v.moved, key=lambda path: abs(v.moved[path]))
            words = half_words(v.variable, v.interval.at, v.by_tolerances)
            out.append(f"  {'':<{width}}  tolerances of the other inputs move it by {words}, most of it {most}")
            ends = both_ends(v)
            if ends is not None:
                low, high = (_in_shop_unit(v.variable, end) for end in ends)
                places = decimals_of(high, (high - low) / 2.0)
                words = " to ".join(shown(v.variable, end, places) for end in ends)
                out.append(f"  {'':<{width}}  both together: {words}")
    return out


def _beside(fit: CaseFit) -> list[str]:
    """Channels and findings beside the model."""
    out = []
    if fit.channels:
        out += ["", "Log beside the case:"]
        for c in fit.channels:
            worst, when = c.worst
            out.append(
                f"  {c.measured.name} at {c.measured.at}: {c.scatter:.2g} K apart (root mean square), at most {abs(worst):.2g} K "
                f"at {when:.4g} s"
            )
        weight = fit.channels[0].weight
        if weight > 1.1:
            out.append(f"  What is left hangs together from row to row: the readings count {weight**2:.3g} times less.")
    if fit.findings:
        out += ["", "Trials beside the case:", *(f"  {_finding_words(f, fit.case)}" for f in fit.findings)]
    return out


def _finding_words(f: FittedFinding, case: Any) -> str:
    """A finding beside the outcome of the model."""
    found = f.finding
    unit = "" if found.unit in ("", "1") else f" {found.unit}"
    what = {0: "measured", 1: "at least", -1: "at most"}[found.side]
    seen = f" ({found.words})" if found.words else ""
    at = f" at {settings_words(found.settings, case)}" if found.settings else ""
    got = "not reached" if not math.isfinite(f.outcome) else f"{f.outcome:.4g}{unit}"
    off = difference_unit(found.unit) if unit else ""
    kept = "" if f.kept else "  <- not followed"
    return f"{found.outcome}{at}: {what} {found.value:.4g}{unit} ± {2 * found.deviation:.2g} {off}".rstrip() + (
        f"{seen}; by the fitted case {got}{kept}"
    )


def _pairs(fit: CaseFit) -> list[str]:
    """Which unknowns cannot be told apart, how they make up for each other, and what would tell."""
    if not fit.pairs:
        return []
    by_name = {v.variable.name: v for v in fit.values}
    out = [""]
    for one, two, correlation in fit.pairs:
        out.append(f"These two cannot be told apart: {one} and {two} (correlation {correlation:+.3f}).")
    for trade in fit.advice.trades:
        first, second = (by_name[name].variable for name in trade.names)
        out.append(
            f"  {first.name} {_change(first, trade.first)} and {second.name} {_change(second, trade.second)} together leave the "
            "readings as they are."
        )
    couple = fit.advice.couple
    if couple is not None:
        words = "; ".join(
            f"{name} {half_words(by_name[name].variable, by_name[name].interval.at, half)}"
            for name, half in couple.halves.items()
        )
        out.append(f"  A couple at {couple.words} would tell them apart: {words}.")
    elif fit.channels:
        out.append("  No couple at a face, in the depth or in a tool would tell them apart in a run like this one.")
    for name, half in (fit.advice.alone or {}).items():
        v = by_name[name].variable
        if v.role == "input":
            other = next(b if a == name else a for a, b, _ in fit.pairs if name in (a, b))
            out.append(
                f"  Were {other} known (measured by itself), {name} would be known to "
                f"{half_words(v, by_name[name].interval.at, half)}."
            )
    return out


def _change(v: Variable, amount: float) -> str:
    """A change on the scale of a variable."""
    if v.log:
        return f"times {math.exp(amount):.3g}"
    of = "temperature_difference" if v.dimension == "temperature" else v.dimension
    return f"{'+' if amount >= 0 else ''}{units.format_(amount, of, None, 3)}"


def _words_of_soundness(fit: CaseFit) -> list[str]:
    """What to think of it all."""
    out = []
    for c in fit.channels:
        stated = float(np.sqrt(np.mean(c.measured.deviation**2)))
        if c.scatter > MISFIT * stated:
            worst, when = c.worst
            side = "above" if worst > 0.0 else "below"
            out.append(
                f"{c.measured.name} is not followed within what was stated ({2 * stated:.2g} K, two standard deviations): the "
                f"reading lies {abs(worst):.2g} K {side} the case at {when:.4g} s. Something else in the case, or the couple's "
                "place, lag or unit, is not as written."
            )
    for f in fit.findings:
        if not f.kept:
            out.append(f"The trial {f.finding.outcome} is not followed: other inputs than the unknowns must be wrong.")
    for v in fit.values:
        if v.variable.role == "input" and v.at_bound and not any(v.variable.name in pair[:2] for pair in fit.pairs):
            out.append(
                f"{v.variable.name} lies at its bound: what was measured asks for a value beyond; widen it or look elsewhere."
            )
    if fit.sound and not out:
        out.append("Every unknown input has its interval, and they can be told apart.")
    elif not fit.sound and not out and not fit.pairs:
        out.append("Not every unknown input is told by what was measured: see the intervals without an end.")
    out.append(
        "Intervals hold for the case as it is written: they do not cover what it leaves out, nor inputs without a tolerance."
    )
    out.append(DEFERENCE)
    return out


def fit_json(fit: CaseFit) -> dict[str, Any]:
    """The same as one object; values in SI, and as they are printed."""
    content = {
        "title": fit.case.title,
        "case_sha256": fit.case.source.sha256,
        "log": fit.log,
        "sound": fit.sound,
        "values": [
            {
                "name": v.variable.name,
                "role": v.variable.role,
                "paths": list(v.paths),
                "value": v.value,
                "low": v.low,
                "high": v.high,
                "unit": units.DIMENSIONS[v.variable.dimension].si or "1",
                "before": v.before,
                "text": rounded(v),
                "interval": interval_words(v),
                "from_profile": v.interval.curved,
                "at_bound": v.at_bound,
                "by_tolerances": v.by_tolerances,
                "with_tolerances": both_ends(v),
                "by_tolerances_is_of_logarithm": v.variable.log,
            }
            for v in fit.values
        ],
        "correlation": fit.correlation,
        "inseparable": [{"names": [a, b], "correlation": r} for a, b, r in fit.pairs],
        "couple_that_would_help": None if fit.advice.couple is None else fit.advice.couple.words,
        "channels": [
            {
                "name": c.measured.name,
                "at": c.measured.at,
                "readings": len(c.measured.time),
                "root_mean_square_K": c.scatter,
                "largest_K": c.worst[0],
                "largest_when_s": c.worst[1],
                "weight": c.weight,
            }
            for c in fit.channels
        ],
        "trials": [
            {
                "outcome": f.finding.outcome,
                "unit": f.finding.unit,
                "side": {0: "measured", 1: "at_least", -1: "at_most"}[f.finding.side],
                "found": f.finding.value,
                "plus_minus": 2.0 * f.finding.deviation,
                "by_the_case": f.outcome,
                "followed": f.kept,
                "settings": f.finding.settings,
            }
            for f in fit.findings
        ],
        "sum_of_squares": fit.squares,
        "rows": fit.rows,
        "other_minima": [list(at) for at in fit.others],
        "notes": list(fit.notes),
    }
    found: dict[str, Any] = plain(content)
    return found


def name_of_log(fit: CaseFit) -> str:
    """The log's file without its folder, or what stands for it."""
    return Path(fit.log).name if fit.log else "trials"
