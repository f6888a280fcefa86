"""A scale-up in words and as JSON."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from thermokit import units
from thermokit.results.digits import number
from thermokit.results.plain import plain
from thermokit.studies.scale_up import CONDUCTION, FLUX, KINETICS, regime

if TYPE_CHECKING:
    from thermokit.studies.scale_up import ScaleUp

WIDTH = 100
LAWS = {
    FLUX: "time goes with the wall itself: twice the wall, twice the time",
    CONDUCTION: "time goes with the square of the wall: twice the wall, four times the time",
    KINETICS: "time hardly depends on the wall: the reaction takes it",
}


def scale_up_text(found: ScaleUp) -> str:
    """The printed answer."""
    lines = [*textwrap.wrap(found.case.title or "Scale-up", WIDTH), ""]
    of = f"{found.of} [{found.unit}]" if found.unit not in ("", "1") else found.of
    by = f", by {found.limit}" if found.limit else ""
    lines += [*_filled(f"{of}{by}, against {' + '.join(found.paths)}", "", ""), ""]
    lines.append(f"  {'factor':>6}  {'size':>10}  {'answer':>10}  {'by L^2':>10}  {'exponent':>8}")
    for row in found.sizes:
        answer = "none" if row.answer is None else number(row.answer, found.unit)
        square = "" if row.by_square is None else number(row.by_square, found.unit)
        n = "" if row.exponent is None else f"{row.exponent:.2f}"
        lines.append(f"  {row.factor:>6.3g}  {size_text(found, row.size):>10}  {answer:>10}  {square:>10}  {n:>8}")
    lines += ["", *_filled(sentence(found))]
    if found.reason is not None:
        lines += _filled(f"Why, at station {found.reason.station}: {found.reason.words()}.")
    if found.material is not None:
        lines += _filled(material_words(found))
    lines += [line for note in found.notes for line in _filled(note, "  - ", "    ")]
    missing = [row for row in found.sizes if row.answer is None]
    if missing:
        lines += _filled(
            f"At {', '.join(f'{row.factor:g}' for row in missing)} times the size {found.limit or found.of} is not reached "
            "within the bounds of the search."
        )
    return "\n".join(lines)


def sentence(found: ScaleUp) -> str:
    """The exponent and what it means."""
    if found.exponent is None:
        return "No exponent: the answer is a temperature, or is reached at one size only."
    what = "1/speed" if found.inverse else "time" if found.unit in ("s", "min", "h") else found.of
    text = f"{what} ~ size^{found.exponent:.2f}: {found.regime}"
    law = LAWS.get(found.regime)
    text += f" ({law})" if law else ""
    if found.exponent < 1.75:
        text += ". The rule t ~ L^2 would be wrong here by the difference of the two columns"
    return text + "."


def material_words(found: ScaleUp) -> str:
    """Another material, beside the two simple laws."""
    other = found.material
    assert other is not None
    if other.ratio is None:
        return f"Of {other.name}: no answer by the same limit; `thermokit dwell` on that case tells why."
    text = f"Of {other.name}: {number(other.answer or 0.0, found.unit)} {found.unit}, {other.ratio:.2f} times the time"
    if other.by_flux is not None and other.by_conduction is not None:
        text += (
            f"; rho cp alone (flux-limited) gives {other.by_flux:.2f}, L^2/a (conduction-limited) {other.by_conduction:.2f}; "
            "other limits, melting and kinetics make the rest"
        )
    return text + "."


def size_text(found: ScaleUp, size: float) -> str:
    """A size in the shop's unit."""
    unit = units.DIMENSIONS[found.dimension].shop
    return f"{number(float(units.to_unit(size, unit, found.dimension)))} {unit}".strip()


def scale_up_json(found: ScaleUp) -> dict[str, Any]:
    """The JSON object of the command."""
    unit = units.DIMENSIONS[found.dimension].shop or "1"
    shown = {
        row.factor: float(units.to_unit(row.size, unit if unit != "1" else "", found.dimension)) for row in found.sizes
    }
    reason, other = found.reason, found.material
    block: dict[str, Any] = {
        "inputs": list(found.paths),
        "of": found.of,
        "limit": found.limit or None,
        "unit": found.unit,
        "size_unit": unit,
        "sizes": [
            {"factor": r.factor, "size": shown[r.factor], "answer": r.answer, "by_square": r.by_square, "exponent": r.exponent}
            for r in found.sizes
        ],
        "exponent": found.exponent,
        "regime": regime(found.exponent, reason),
        "sentence": sentence(found),
        "reason": None
        if reason is None
        else {
            "station": reason.station, "biot": reason.biot, "flux_number": reason.flux_number, "fourier": reason.fourier,
            "depth": {"value": 1e3 * reason.depth, "unit": "mm"}, "words": reason.words(),
        },
        "material": None
        if other is None
        else {
            "name": other.name, "answer": other.answer, "ratio": other.ratio, "by_flux": other.by_flux,
            "by_conduction": other.by_conduction,
        },
        "notes": list(found.notes),
    }  # fmt: skip
    own = found.case
    told: dict[str, Any] = plain(
        {"title": own.title, "process": own.process, "case_sha256": own.source.sha256, "scale": block}
    )
    return told


def _filled(text: str, first: str = "  ", rest: str = "  ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)
