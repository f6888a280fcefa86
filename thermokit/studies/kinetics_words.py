"""What a fit of kinetics found: in words, as JSON, and as a ``[kinetics.NAME]`` block for a case file."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from thermokit.kinetics.guards import GAS_CONSTANT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermokit.kinetics.isoconversional import Line
    from thermokit.studies.kinetics_fit import KineticsFit
    from thermokit.studies.kinetics_search import FittedSet

ZERO_CELSIUS = 273.15
FORM_WORDS = {
    "two_rate": "two rates, d(a)/dt = (k1 + k2 a^m)(1 - a)^n",
    "one_energy": "two rates of one energy, d(a)/dt = (k1 + k2 a^m)(1 - a)^n",
    "autocatalytic": "one autocatalytic rate, d(a)/dt = k2 a^m (1 - a)^n",
    "nth_order": "one rate of order n, d(a)/dt = k1 (1 - a)^n",
}
METHOD = "Vyazovkin (2001), by integration over small steps of degree"
BASELINE = "linear tangential for ramps (touching before and after the peak), the last level for holds"
_SIMPLER_WORDS = {
    "nth_order": "a single rate of order n fits as well",
    "autocatalytic": "k1 = 0 fits as well",
    "one_energy": "one energy for both rates fits as well",
}
# constant -> (name in words, unit, factor to it)
_CONSTANTS = {
    "factor_1": ("factor of k1", "1/s", 1.0),
    "energy_1": ("energy of k1", "kJ/mol", 1e-3),
    "factor_2": ("factor of k2", "1/s", 1.0),
    "energy_2": ("energy of k2", "kJ/mol", 1e-3),
    "m": ("m", "", 1.0),
    "n": ("n", "", 1.0),
    "k1": ("k1", "1/s", 1.0),
    "k2": ("k2", "1/s", 1.0),
}


def fit_text(fit: KineticsFit, name: str) -> str:
    """Everything in words, with the block to paste."""
    lines = [*_run_lines(fit), "", *_energy_lines(fit), "", *_set_lines(fit.fitted, "Fitted set")]
    if fit.heat is not None:
        ends = (
            "" if fit.heat_ends is None else f", 95 % between {_span(fit.heat_ends, 1e-3)} by the scatter of the runs"
        )
        lines.append(f"  total heat {fit.heat / 1e3:.4g} kJ/kg{ends}")
    told = doubts(fit)
    for text in told:
        lines += ["", *textwrap.wrap(f"CAUTION {text}", 100, subsequent_indent="        ")]
    if fit.simpler is not None:
        lines += ["", *_set_lines(fit.simpler, "Simpler set that fits as well")]
    if fit.notes:
        lines += ["", "Notes"]
        for note in fit.notes:
            lines += textwrap.wrap(note, 100, initial_indent="  ", subsequent_indent="      ")
    lines += ["", "To paste into a case:", "", block(fit, name)]
    if fit.simpler is not None:
        lines += ["or the simpler set:", "", block(fit, f"{name}_simpler", simpler=True)]
    return "\n".join(lines)


def doubts(fit: KineticsFit) -> list[str]:
    """What the data do not tell, in plain words."""
    found = []
    if fit.simpler is not None:
        found.append(
            f"{_SIMPLER_WORDS[fit.simpler.form]}: these runs do not need all constants of the set, so those do not hold "
            "outside them; take the simpler set"
        )
    if not all(np.isfinite(end).all() for end in fit.fitted.ends.values()):
        lost = [_CONSTANTS[k][0] for k, ends in fit.fitted.ends.items() if not np.isfinite(ends).all()]
        found.append(f"the runs say nothing about {', '.join(lost)}")
    words = {"ln_k1": "k1", "ln_k2": "k2", "energy_1": "energy of k1", "energy_2": "energy of k2"}
    for first, second, correlation in fit.fitted.confidence.inseparable():
        pair = [" and ".join(words.get(p, p) for p in part.split(" and ")) for part in (second, first)]
        found.append(
            f"{pair[0]} and {pair[1]} can hardly be told apart (correlation {correlation:+.3f}): one makes up for the other; "
            "runs over a wider range of heating rates or temperatures would part them"
        )
    return found


def block(fit: KineticsFit, name: str, simpler: bool = False) -> str:
    """A ``[kinetics.NAME]`` table of a case file, with its confidence as comments."""
    fitted = fit.simpler if simpler and fit.simpler is not None else fit.fitted
    runs = ", ".join(run.cure.run.words for run in fit.runs)
    told = f"fitted by `thermokit kinetics fit` to {len(fit.runs)} runs: {runs}"
    lines = [f"[kinetics.{name}]", *textwrap.wrap(told, 100, initial_indent="# ", subsequent_indent="#   ")]
    lines += [f"# 95 % confidence: {text}" for text in _confidence_comments(fitted)]
    if fitted.form == "nth_order":
        lines.append('form = "nth_order"')
    lines.append('state = "cure"')
    for i in ("1", "2"):
        if f"energy_{i}" in fitted.values:
            energy = round(fitted.values[f"energy_{i}"] / 10.0) * 10.0
            # the factor that keeps the rate at the reference temperature with the rounded energy
            factor = fitted.values[f"k{i}"] * math.exp(energy / (GAS_CONSTANT * fitted.reference))
            lines.append(f'rate_{i} = {{ factor = "{factor:.6g} 1/s", energy = "{energy / 1e3:.5g} kJ/mol" }}')
    for key in ("m", "n"):
        if key in fitted.values:
            lines.append(f"{key} = {float(f'{fitted.values[key]:.5g}')}")
    if fit.heat is None:
        lines.append('# heat is not known from conversions: add it, such as heat = "300 kJ/kg"')
    else:
        lines.append(
            f'heat = "{fit.heat / 1e3:.4g} kJ/kg"   # of what was in the calorimeter: less for a filled compound'
        )
    if fitted.start > 0.0:
        lines.append(f"start = {fitted.start:g}")
    low, high = fit.valid[0] - ZERO_CELSIUS, fit.valid[1] - ZERO_CELSIUS
    lines.append(f'valid = {{ from = "{math.floor(low)} degC", to = "{math.ceil(high)} degC" }}')
    return "\n".join(lines) + "\n"


def fit_json(fit: KineticsFit, name: str) -> dict[str, Any]:
    """The same as one JSON object; what is not known is null."""
    return {
        "runs": [_run_json(run) for run in fit.runs],
        "baseline": BASELINE,
        "kissinger": _line_json(fit.kissinger),
        "ozawa": _line_json(fit.ozawa),
        "ozawa_refined": _line_json(fit.ozawa_refined),
        "isoconversional": {
            "method": METHOD,
            "from": fit.energies_from,
            "degree": fit.isoconversional.degree.tolist(),
            "energy": [_known(e / 1e3) for e in fit.isoconversional.energy],
            "error": [_known(e / 1e3) for e in fit.isoconversional.error],
            "unit": "kJ/mol",
        },
        "set": _set_json(fit, fit.fitted, name, False),
        "simpler": None if fit.simpler is None else _set_json(fit, fit.simpler, f"{name}_simpler", True),
        "recommended": (fit.simpler or fit.fitted).form,
        "heat": {
            "value": _known(None if fit.heat is None else fit.heat / 1e3),
            "low": _known(None if fit.heat_ends is None else fit.heat_ends[0] / 1e3),
            "high": _known(None if fit.heat_ends is None else fit.heat_ends[1] / 1e3),
            "unit": "kJ/kg",
        },
        "valid": {"from": fit.valid[0] - ZERO_CELSIUS, "to": fit.valid[1] - ZERO_CELSIUS, "unit": "degC"},
        "cautions": doubts(fit),
        "notes": list(fit.notes),
    }


def ninety_five(line: Line) -> float | None:
    """Half the 95 % interval of a line's energy [J/mol], by Student's distribution; None from two points."""
    if line.error is None:
        return None
    from scipy.special import stdtrit

    return float(stdtrit(len(line.x) - 2, 0.975)) * line.error


# -- words ---------------------------------------------------------------------------------------------------------------


def _run_lines(fit: KineticsFit) -> list[str]:
    rows = [["run", "", "rows", "peak [degC]", "heat [kJ/kg]"]]
    for run in fit.runs:
        peak = "" if run.peak is None else f"{run.peak - ZERO_CELSIUS:.1f}"
        if run.peak is not None and run.peak_error is not None and math.isfinite(run.peak_error):
            peak += f" ± {run.peak_error:.2g}"
        heat = "" if run.cure.heat is None else f"{run.cure.heat / 1e3:.4g}"
        rows.append([run.cure.run.name, run.cure.run.words, str(len(run.cure.run.time)), peak, heat])
    return [*_aligned(rows), f"  heat over a baseline {BASELINE}"]


def _energy_lines(fit: KineticsFit) -> list[str]:
    lines = ["Activation energy without a rate law"]
    named = (
        (fit.kissinger, "Kissinger (1957), as in ASTM E2890"),
        (fit.ozawa, "Flynn, Wall, Ozawa, as in ASTM E698, unrefined"),
        (fit.ozawa_refined, "the same, refined"),
    )
    for line, words in named:
        if line is None:
            continue
        half = ninety_five(line)
        sure = "" if half is None else f" ± {half / 1e3:.2g} (95 %; st. error {(line.error or 0.0) / 1e3:.2g})"
        factor = "" if line.factor is None else f", factor {line.factor:.3g} 1/s"
        lines.append(f"  {words}: {line.energy / 1e3:.4g}{sure} kJ/mol{factor}")
    if fit.kissinger is None:
        lines.append("  no line of Kissinger or Ozawa: it takes ramps at two and more heating rates")
    found = fit.isoconversional
    places = [
        i for i in range(len(found.degree)) if abs(found.degree[i] * 10 % 1) < 1e-9 and math.isfinite(found.energy[i])
    ]
    rows = [["degree", *(f"{found.degree[i]:.1f}" for i in places)]]
    rows.append(["kJ/mol", *(f"{found.energy[i] / 1e3:.1f}" for i in places)])
    if any(math.isfinite(found.error[i]) for i in places):
        rows.append(["st. error", *(f"{found.error[i] / 1e3:.1f}" for i in places)])
    return [
        *lines,
        f"  against degree of cure, {fit.energies_from}, {METHOD}:",
        *("  " + row for row in _aligned(rows)),
    ]


def _set_lines(fitted: FittedSet, title: str) -> list[str]:
    rows = [["", "", "95 % from", "to", ""]]
    for key, value in fitted.values.items():
        words, unit, factor = _CONSTANTS[key]
        low, high = fitted.ends[key]
        at = f" at {fitted.reference - ZERO_CELSIUS:.0f} degC" if key in ("k1", "k2") else ""
        rows.append([words + at, _digits(value * factor), _digits(low * factor), _digits(high * factor), unit])
    return [f"{title}: {FORM_WORDS[fitted.form]}", *_aligned(rows)]


def _confidence_comments(fitted: FittedSet) -> list[str]:
    found = []
    for key in ("factor_1", "energy_1", "factor_2", "energy_2", "m", "n"):
        if key in fitted.values:
            words, unit, factor = _CONSTANTS[key]
            low, high = fitted.ends[key]
            found.append(f"{words} {_digits(low * factor)} to {_digits(high * factor)} {unit}".rstrip())
    return ["; ".join(found[i : i + 2]) for i in range(0, len(found), 2)]


def _digits(value: float) -> str:
    return f"{value:.4g}" if math.isfinite(value) else "not known"


def _span(ends: tuple[float, float], factor: float) -> str:
    return f"{_digits(ends[0] * factor)} and {_digits(ends[1] * factor)}"


def _aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows as lines, the first column to the left, the others to the right."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        "  "
        + "  ".join(
            c.ljust(w) if i == 0 else c.rjust(w) for i, (c, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


# -- JSON ----------------------------------------------------------------------------------------------------------------


def _known(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def _run_json(run: Any) -> dict[str, Any]:
    source = run.cure.run
    return {
        "name": source.name,
        "kind": source.kind,
        "measures": source.measures,
        "rows": len(source.time),
        "heating_rate": {
            "value": _known(source.heating_rate * 60.0 if source.kind == "ramp" else None),
            "unit": "K/min",
        },
        "held_at": {"value": _known(source.held_at - ZERO_CELSIUS if source.kind == "hold" else None), "unit": "degC"},
        "peak": {
            "value": _known(None if run.peak is None else run.peak - ZERO_CELSIUS),
            "error": _known(run.peak_error),
            "unit": "degC",
        },
        "heat": {
            "value": _known(None if run.cure.heat is None else run.cure.heat / 1e3),
            "fitted": _known(None if run.heat is None else run.heat / 1e3),
            "unit": "kJ/kg",
        },
        "misses_by": _known(run.miss),
    }


def _line_json(line: Line | None) -> dict[str, Any] | None:
    if line is None:
        return None
    half = ninety_five(line)
    return {
        "energy": _known(line.energy / 1e3),
        "standard_error": _known(None if line.error is None else line.error / 1e3),
        "low": _known(None if half is None else (line.energy - half) / 1e3),
        "high": _known(None if half is None else (line.energy + half) / 1e3),
        "unit": "kJ/mol",
        "factor": {"value": _known(line.factor), "unit": "1/s"},
    }


def _set_json(fit: KineticsFit, fitted: FittedSet, name: str, simpler: bool) -> dict[str, Any]:
    constants = {}
    for key, value in fitted.values.items():
        _, unit, factor = _CONSTANTS[key]
        low, high = fitted.ends[key]
        constants[key] = {
            "value": _known(value * factor), "low": _known(low * factor), "high": _known(high * factor), "unit": unit
        }  # fmt: skip
    return {
        "form": fitted.form,
        "constants": constants,
        "confidence": 0.95,
        "reference": {"value": fitted.reference - ZERO_CELSIUS, "unit": "degC"},
        "effective_rows": _known(fitted.confidence.rows),
        "start": fitted.start,
        "block": block(fit, name, simpler),
    }
