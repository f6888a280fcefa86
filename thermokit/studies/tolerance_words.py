"""How many parts come out right, in words for the setter and as the JSON object of the command."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit import units
from thermokit.case.paths import dimension_of
from thermokit.case.tolerances import by_path
from thermokit.results.plain import plain

if TYPE_CHECKING:
    from thermokit.studies.tolerance_study import Scatter, Worst

WIDTH = 100
SETTINGS = 9  # of the table against the setting
SMALL = 0.01  # share of the variance below which a cause is not told in words
NOT_COVERED = (
    "Not covered: moisture, draughts, colour change, a limit that is itself uncertain, "
    "and whatever has no tolerance in the case."
)


def scatter_text(found: Scatter) -> str:
    """The printed answer: share, what the others break, best setting, causes, worst parts, one sentence of margin."""
    title = found.case.title or "Parts within the tolerances"
    lines = [title, "", f"{_head(found)}: {found.draws} parts drawn, seed {found.seed}"]
    rows = [("inside all limits", found.inside, f"± {100 * found.error:.2g} (standard error)")]
    rows += [(b.words, b.share, f"break {b.limit}{_alone(b.share, b.alone)}") for b in found.broken]
    lines += [f"  {words:<18}{100 * share:6.1f} in 100   {rest}" for words, share, rest in rows]
    if found.failed:
        lines.append(f"  {found.failed} parts could not be solved; they count as not inside")
    lines += [f"  {'convergence':<18}" + ", ".join(f"{n}: {100 * s:.1f} ± {100 * e:.1f}" for n, s, e in found.steps)]
    lines += _settings(found)
    lines += _causes(found)
    lines += _worst(found)
    lines += ["", _filled(sentence(found), "", "")]
    if found.notes:
        lines += ["", *(_filled(note[0].upper() + note[1:] + ".", "", "") for note in found.notes)]
    return "\n".join(lines)


def sentence(found: Scatter) -> str:
    """The margin in one paragraph, for a sheet: how far from the limits, how many fall inside, what is nearest, what helps."""
    at = f"At {found.scale.text(found.setting)}" if found.setting is not None else "As the case stands"
    distances = []
    for limit in found.limits:
        margin, unit = found.nominal[limit.name]
        if not np.isfinite(margin) or not found.amounts:
            continue
        side = "above its lower limit" if limit.least else "below its upper limit"
        words = f"{limit.name} is {amount(abs(margin), unit)} "
        distances.append(words + (side if margin >= 0.0 else "beyond its limit"))
    told = f"{at} {_joined(distances)}. With" if distances else f"{at}, with"
    broken = [f"{100 * b.share:.0f} {b.words}: {b.limit}" for b in found.broken if round(100 * b.share) > 0]
    rest = f" ({'; '.join(broken)})" if broken else ""
    told += f" the listed tolerances {100 * found.inside:.0f} parts in 100 fall inside{rest}. "
    return told + _edges(found) + NOT_COVERED


def _edges(found: Scatter) -> str:
    """The nearest edge of the window, and which way is safer."""
    window, setting = found.window, found.setting
    if window is None or setting is None or window.earliest is None:
        return ""
    edges = []
    if window.earliest_limit is not None:
        edges.append((setting - window.earliest, window.earliest_limit, window.earliest - setting))
    if window.latest is not None and window.latest_limit is not None:
        edges.append((window.latest - setting, window.latest_limit, window.latest - setting))
    told = ""
    if edges:
        inside, name, way = min(edges)
        told = f"Nearest edge: {name} ({found.scale.change(way)})"
        told += "" if inside >= 0.0 else ", which is passed"
    best = found.best
    good = found.best_inside
    if best is not None and good is not None and good - found.inside > 2.0 * max(found.error, 0.0025):
        less, more = ("a shorter", "a longer") if found.scale.dimension == "time" else ("a smaller", "a larger")
        which = less if best < setting else more
        told += f"; {which} one is safer: the best is {found.scale.text(best)}, with {100 * good:.0f}"
    return told + ". " if told else ""


def _head(found: Scatter) -> str:
    if found.setting is None:
        return "As the case stands"
    best = found.best
    own = best is not None and abs(found.setting - best) < 1e-9 * abs(best)
    return f"At {found.scale.text(found.setting)}" + (" (the best share of parts)" if own else "")


def _alone(share: float, alone: float) -> str:
    return f", {100 * alone:.1f} of them nothing else" if share - alone >= 0.0005 else ""


def _settings(found: Scatter) -> list[str]:
    """Share of good parts against the setting."""
    shares = found.shares
    if shares is None:
        return []
    lines = ["", "Parts in 100 inside, against the setting"]
    for setting in np.linspace(shares.settings[0], shares.settings[-1], SETTINGS):
        good, broken = shares.at(float(setting))
        causes = ", ".join(f"{100 * share:.0f} break {name}" for name, share in broken.items() if share >= 0.005)
        lines.append(f"  {found.scale.text(float(setting)):>10}  {100 * good:5.0f}   {causes}")
    if found.best is not None and found.best_inside is not None:
        lines.append(f"  best: {found.scale.text(found.best)}, {100 * found.best_inside:.0f} in 100")
    return lines


def _causes(found: Scatter) -> list[str]:
    """The causes, the largest first, with their share of the variance of each limit's margin."""
    causes = found.causes
    kept = [j for j in range(len(found.limits)) if np.isfinite(causes.rest[j])]
    if not kept:
        return ["", "No margin changes within the tolerances."]
    wide = max(len(name) for name in (*causes.names, "interplay"))
    heads = [found.limits[j].name for j in kept]
    columns = [max(len(head), 7) for head in heads]
    lines = ["", "Where the scatter of the margins comes from (share of the variance)"]
    names = "  ".join(f"{h:>{w}}" for h, w in zip(heads, columns, strict=True))
    lines.append(f"  {'':<{wide}}  overall  {names}")
    for i in causes.ranked():
        cells = "  ".join(f"{100 * causes.shares[j, i]:>{w - 2}.0f} %" for j, w in zip(kept, columns, strict=True))
        lines.append(f"  {causes.names[i]:<{wide}}  {100 * causes.overall[i]:5.0f} %  {cells}")
    cells = "  ".join(f"{100 * causes.rest[j]:>{w - 2}.0f} %" for j, w in zip(kept, columns, strict=True))
    lines.append(f"  {'interplay':<{wide}}  {'':>7}  {cells}")
    if found.halved is not None:
        name, share = found.halved
        lines.append(f"  With half the tolerance of {name}: {100 * share:.0f} in 100 inside.")
    return lines


def _worst(found: Scatter) -> list[str]:
    lines = []
    for together in (False, True):
        rows = [w for w in found.worst if w.together is together]
        if rows:
            head = (
                "All errors at two standard deviations at once"
                if together
                else "Worst credible part (one in forty is worse)"
            )
            lines += ["", head]
        for worst in rows:
            if found.amounts:
                state = f"{amount(worst.margin, worst.unit, sign=True)}" + ("" if worst.margin >= 0.0 else ", broken")
            else:
                state = "met" if worst.margin >= 0.0 else "broken"
            lines.append(_filled(f"{worst.limit}: {state}; {', '.join(_errors(found, worst))}", "  ", "    "))
    return lines


def _errors(found: Scatter, worst: Worst) -> list[str]:
    """The errors of a worst part that matter, the largest cause first: by the name in the case, with their amount."""
    leaves, j = by_path(found.case), [limit.name for limit in found.limits].index(worst.limit)
    told = []
    for i in np.argsort(-np.nan_to_num(found.causes.shares[j]), kind="stable"):
        name = found.causes.names[i]
        if not found.causes.shares[j, i] >= SMALL:
            continue
        path = found.case.tolerances[name].inputs(name)[0]
        value, nominal = worst.inputs[path]
        told.append(f"{name} {error_words(value, nominal, dimension_of(leaves[path].kind))}")
    return told


def error_words(value: float, nominal: float, dimension: str) -> str:
    """An error in words: in kelvins, else as a share; the value itself where it is meant to be nothing.

    >>> error_words(403.15, 393.15, "temperature"), error_words(0.0041, 0.004, "length")
    ('+10.0 K', '+2.5 %')
    """
    if dimension.startswith("temperature"):
        return f"{value - nominal:+.1f} K"
    if nominal == 0.0:
        return f"+{units.format_(value, dimension, digits=3)}"
    return f"{100.0 * (value / nominal - 1.0):+.1f} %"


def amount(value: float, unit: str, sign: bool = False) -> str:
    """A margin in words.

    >>> amount(8.24, "K"), amount(-0.0123, "1", sign=True)
    ('8.2 K', '-0.012')
    """
    own = "+" if sign else ""
    return f"{value:{own}.1f} K" if unit == "K" else f"{value:{own}.2g}" + ("" if unit == "1" else f" {unit}")


def _joined(words: list[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def _filled(text: str, first: str, rest: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=rest)


def scatter_json(found: Scatter, files: list[str]) -> dict[str, Any]:
    """The JSON object of the command; settings in the unit that is shown, inputs in SI with their dimension."""
    causes, shown, leaves = found.causes, found.scale.shown, by_path(found.case)
    block: dict[str, Any] = {
        "setting": shown(found.setting),
        "unit": found.scale.unit if found.path is not None else None,
        "path": found.path,
        "inside": found.inside,
        "standard_error": found.error,
        "draws": found.draws,
        "seed": found.seed,
        "failed": found.failed,
        "breaking": {b.limit: {"share": b.share, "alone": b.alone, "words": b.words} for b in found.broken},
        "convergence": [{"draws": n, "inside": s, "standard_error": e} for n, s, e in found.steps],
        "nominal": {name: {"margin": margin, "unit": unit} for name, (margin, unit) in found.nominal.items()},
        "causes": [
            {
                "name": causes.names[i],
                "paths": list(found.case.tolerances[causes.names[i]].inputs(causes.names[i])),
                "overall": causes.overall[i],
                "by_limit": {lim.name: causes.shares[j, i] for j, lim in enumerate(found.limits)},
            }
            for i in causes.ranked()
        ],
        "interplay": {lim.name: causes.rest[j] for j, lim in enumerate(found.limits)},
        "halved": None if found.halved is None else {"name": found.halved[0], "inside": found.halved[1]},
        "worst": [
            {
                "limit": w.limit, "margin": w.margin, "unit": w.unit, "all_at_once": w.together,
                "inputs": {
                    path: {"value": v, "nominal": n, "dimension": dimension_of(leaves[path].kind)}
                    for path, (v, n) in w.inputs.items()
                },
            }
            for w in found.worst
        ],
        "recommended": shown(found.best),
        "recommended_inside": found.best_inside,
        "window": None,
        "against_setting": None,
        "sentence": sentence(found),
        "notes": list(found.notes),
        "files": files,
    }  # fmt: skip
    if found.window is not None:
        window = found.window
        block["window"] = {
            "earliest": shown(window.earliest), "latest": shown(window.latest),
            "earliest_limit": window.earliest_limit, "latest_limit": window.latest_limit,
        }  # fmt: skip
    if found.shares is not None:
        at = np.linspace(found.shares.settings[0], found.shares.settings[-1], 41)
        block["against_setting"] = [
            {
                "setting": shown(float(s)),
                "inside": found.shares.at(float(s))[0],
                "breaking": found.shares.at(float(s))[1],
            }
            for s in at
        ]
    source = found.case.source
    told: dict[str, Any] = plain(
        {
            "title": found.case.title,
            "process": found.case.process,
            "case_sha256": source.sha256,
            "status": "finished",
            "tolerance": block,
        }
    )
    return told
